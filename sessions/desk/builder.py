"""The form in which a plan is thought out at the desk: what there is to choose from, what was chosen, its draft."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..casebook import catalogue
from ..casebook.catalogue import Listener
from ..casebook.store import Casebook
from ..errors import PlanError
from ..plans import drafting, overview, planned_test, standing_words
from ..plans.methods.counted import CountedMethod
from ..plans.methods.method import Method
from ..plans.methods.table import METHODS
from ..plans.plan import Plan
from ..plans.plan_rows import Wish
from ..words import lexicon_rows


@dataclass(frozen=True)
class Asked:
    """What stands in the form; no passages for all of them, None for the usual number; `first` of the setups leads."""

    method: str
    setups: tuple[str, ...] = ()
    first: str = ""
    passages: tuple[str, ...] = ()
    listeners: tuple[str, ...] = ()
    more_listeners: tuple[str, ...] = ()
    trials: int | None = None
    alpha: str = "0.05"
    effect: str = ""
    question: str = ""
    operator: str = ""
    name: str = ""
    stopping: str = planned_test.FIXED
    ties: str = planned_test.NO_TIES
    one_sided: bool = False
    controls: int | None = None
    words: tuple[str, ...] = ()
    rated: bool = False
    exploratory: bool = False

    @property
    def in_order(self) -> tuple[str, ...]:
        """The setups, the one that is to come first before the others."""
        return tuple(sorted(self.setups, key=lambda name: name != self.first))

    @property
    def everybody(self) -> tuple[str, ...]:
        """All who listen, each once."""
        return tuple(dict.fromkeys((*self.listeners, *self.more_listeners)))


@dataclass(frozen=True)
class MethodChoice:
    """A method as the form offers it, and which fields it has a use for."""

    name: str
    about: str
    question: str
    usual_effect: str
    effect_told: str
    fields: tuple[str, ...]

    @property
    def asks(self) -> str:
        """What it asks, in short: what it is about without the test that judges it, and without its own name."""
        told = self.about.partition(" Exact")[0].partition(" (")[0].rstrip(".")
        return told.partition(": ")[2] or told


@dataclass(frozen=True)
class Offered:
    """What a menu offers: the name that plans state, and what it means."""

    name: str
    told: str


RULES = (
    Offered(planned_test.FIXED, "after all trials"),
    Offered(planned_test.SPRT, "as soon as it is clear that it is heard, or that it is not"),
    Offered(planned_test.E_PROCESS, "as soon as it is clear that it is heard; else after all trials"),
)
TIES = (
    Offered(planned_test.NO_TIES, "one of the two has to be preferred"),
    Offered("drop", "it may be said, and such a trial is left out"),
    Offered("split", "it may be said, and such a trial counts half for each"),
)


@dataclass(frozen=True)
class PassageChoice:
    """A passage as the form offers it."""

    name: str
    length_s: float
    evidence: str


@dataclass(frozen=True)
class Builder:
    """What the form offers."""

    methods: Sequence[MethodChoice]
    setups: Sequence[str]
    passages: Sequence[PassageChoice]
    listeners: Sequence[str]
    words: Sequence[str]
    rules: Sequence[Offered] = RULES
    ties: Sequence[Offered] = TIES


def gather(casebook: Casebook) -> Builder:
    """What there is to choose from."""
    stands = overview.gather(casebook)
    passages = [
        PassageChoice(
            one.name,
            one.length_s,
            f"{standing_words.match_words(one)}; giveaways: {standing_words.check_words(one)}",
        )
        for one in stands.passages
    ]
    return Builder(
        [_choice(one) for one in METHODS.values()],
        [one.name for one in stands.setups if one.tracks],
        passages,
        [one.name for one in catalogue.everything(casebook, Listener)],
        list(lexicon_rows.in_force(casebook).entries),
    )


def _choice(method: Method) -> MethodChoice:
    has = {
        "stopping": method.sequential_possible,
        "ties": method.ties_possible,
        "one_sided": method.side_foreseeable,
        "controls": method.controls_possible,
        "words": method.asks_words,
        "rated": method.asks_words,
    }
    fields = tuple(name for name, used in has.items() if used)
    return MethodChoice(
        method.name, method.about, method.default_question, method.usual_effect, _effect_told(method), fields
    )


def _effect_told(method: Method) -> str:
    """In what the difference that is looked for is given, and the usual one."""
    usual = method.usual_effect
    if not isinstance(method, CountedMethod):
        return f"Empty: {usual}, which means that {method.effect_in_words(usual)}."
    whom = "for the same setup" if method.ties_possible else "right"
    return (
        f"The share of the trials answered {whom}, in the long run: {method.effect_bounds}; "
        f"{method.chance_of_effect:.2g} is guessing alone. Empty: {usual}."
    )


def wished(asked: Asked) -> Wish:
    """The wish that is drafted."""
    method = method_named(asked.method)
    for name, number, such_as in (("alpha", asked.alpha, "0.05"), ("effect", asked.effect, method.usual_effect)):
        if number:
            planned_test.check_decimal(name, number, such_as)
    return Wish(
        method=asked.method,
        setups=asked.in_order,
        passages=asked.passages,
        listeners=asked.everybody,
        trials=asked.trials,
        alpha=asked.alpha or "0.05",
        effect=asked.effect,
        question=asked.question,
        operator=asked.operator,
        stopping=asked.stopping if method.sequential_possible else planned_test.FIXED,
        ties=asked.ties if method.ties_possible else planned_test.NO_TIES,
        one_sided=asked.one_sided and method.side_foreseeable,
        controls=(asked.controls or 0) if method.controls_possible else 0,
        words=asked.words if method.asks_words else (),
        rated=asked.rated and method.asks_words,
        exploratory=asked.exploratory,
    )


def draft(casebook: Casebook, asked: Asked) -> Plan:
    """The draft of a plan, kept."""
    return drafting.draft(casebook, wished(asked), asked.name.strip())


def method_named(name: str) -> Method:
    """The method of that name.

    Raises
    ------
    PlanError
        If there is none.
    """
    found = METHODS.get(name)
    if found is None:
        raise PlanError(f"there is no method {name!r}; choose one of {', '.join(METHODS)}")
    return found
