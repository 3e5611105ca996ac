"""The form in which a plan is thought out at the desk: what there is to choose from, what was chosen, its draft."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..casebook import catalogue
from ..casebook.catalogue import Listener
from ..casebook.store import Casebook
from ..errors import PlanError
from ..plans import drafting, overview, planned_test, standing_words
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
    fields: tuple[str, ...]


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
    rules: Sequence[str] = planned_test.RULES
    ties: Sequence[str] = planned_test.POLICIES


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
    return MethodChoice(method.name, method.about, method.default_question, method.usual_effect, fields)


def wished(asked: Asked) -> Wish:
    """The wish that is drafted."""
    method = method_named(asked.method)
    for name, number in (("alpha", asked.alpha), ("effect", asked.effect)):
        if number:
            planned_test.check_decimal(name, number)
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
