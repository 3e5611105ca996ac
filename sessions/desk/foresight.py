"""What a plan would be while it is thought out: what its test asks for and finds, and how long an evening it makes.

The numbers come from the modules that `plan` and `power` use; nothing is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from stats.errors import StatsError

from ..casebook.catalogue import Passage
from ..casebook.store import Casebook
from ..errors import CatalogueError, PlanError
from ..plans import ballot_words, drafting, planned_test
from ..plans.methods.method import Method
from ..plans.plan import Plan
from ..plans.plan_rows import Wish
from ..preparation.selection import select
from ..results import sentences
from ..words import lexicon_rows
from .builder import Asked, method_named, wished
from .field_labels import spoken

ANSWER_S = 15.0  # to answer, say how sure, and have the next trial come; our guess, no source
ONCE, OFTEN = 1, 3  # how often everything in a trial is heard, at least and by who goes to and fro; the same
REST_MIN = 30  # longer sessions tire: ITU-R BS.1116 has them last 20 to 30 minutes (from memory)
MOST_FORESEEN = 64  # kept, since a simulated power takes a while


@dataclass(frozen=True)
class Foreseen:
    """What a plan would be: its sentences, what is to be known of it, the trials for each, and how long it takes."""

    sentences: Sequence[str]
    warnings: Sequence[str]
    trials: int
    length: str
    refused: str = ""


def foreseen(casebook: Casebook, asked: Asked) -> Foreseen:
    """What the plan would be; where none can be made of this, why, in place of it."""
    try:
        return _foreseen(casebook, asked)
    except (PlanError, CatalogueError, StatsError) as error:
        return Foreseen([], [], 0, "", spoken(str(error)))


def _foreseen(casebook: Casebook, asked: Asked) -> Foreseen:
    wish, method, lexicon = wished(asked), method_named(asked.method), lexicon_rows.in_force(casebook)
    method = method.asked(rated=asked.rated and method.asks_words)
    least, most = method.setups
    if not least <= len(asked.setups) <= most:
        many = f"{least}" if least == most else f"{least} to {most}"
        raise PlanError(f"{method.name} compares {many} setups, and {len(asked.setups)} are chosen")
    selection = select(casebook, asked.in_order, asked.passages)
    setups, passages = [one.name for one in selection.setups], list(selection.passages)
    if method.asks_words:
        method = method.with_words(ballot_words.checked(asked.words, lexicon))
    method = method.with_labels(len(setups), ties=asked.ties != planned_test.NO_TIES)
    listeners = max(1, len(asked.everybody))
    trials = drafting.trials_of(method, wish, listeners, len(setups), len(passages))
    method.check_trials(trials, len(setups))
    document = _document(method, wish, tuple(setups), listeners, trials)
    plan = Plan(document)
    slots = trials + max(wish.controls, method.least_controls(trials))
    words = document.get("words", ())
    warned = [
        *ballot_words.advice(words),
        *ballot_words.unknown(words, lexicon),
        *planned_test.warnings(plan.method, document),
    ]
    return Foreseen(
        [_length_in_trials(trials, slots, listeners), *sentences.planned(plan)],
        list(map(spoken, warned)),
        trials,
        _evening(slots, len(method.stimuli), passages),
    )


def _document(method: Method, wish: Wish, setups: tuple[str, ...], listeners: int, trials: int) -> dict[str, Any]:
    """As much of a plan's document as tells what its test asks for and finds."""
    numbers = drafting.checked_numbers(method, wish, trials, listeners)
    return {
        "method": method.name,
        "trials": trials,
        "controls": wish.controls,
        "setups": [{"setup": name, "name": name, "kind": "files"} for name in setups],
        "listeners": [{"listener": str(number), "name": str(number)} for number in range(listeners)],
        "rule_out": "none",
        "earlier": [],
        **(method.words_part() if method.asks_words else {}),
        **_stated(method, numbers, len(setups)),
    }


@lru_cache(MOST_FORESEEN)
def _stated_once(method: Method, numbers: planned_test.Numbers, setups: int) -> tuple[tuple[str, Any], ...]:
    return tuple(planned_test.stated(method, numbers, setups).items())


def _stated(method: Method, numbers: planned_test.Numbers, setups: int) -> dict[str, Any]:
    try:
        return dict(_stated_once(method, numbers, setups))
    except TypeError:  # a method whose labels are kept in a dict has no hash
        return planned_test.stated(method, numbers, setups)


def _length_in_trials(trials: int, slots: int, listeners: int) -> str:
    more = f" and {slots - trials} in which all is the same" if slots > trials else ""
    each = f" for each of {listeners} listeners" if listeners > 1 else ""
    return f"{trials} trials{more}{each}."


def _evening(slots: int, stimuli: int, passages: Sequence[Passage]) -> str:
    """How long it takes, from hearing everything once through to going to and fro."""
    length_s = sum(one.frames / one.rate_hz for one in passages) / len(passages)
    low, high = (slots * (stimuli * length_s * often + ANSWER_S) / 60 for often in (ONCE, OFTEN))
    rest = " Plan rests, or several evenings: a session goes on where it was." if high > REST_MIN else ""
    return (
        f"About {max(1, round(low))} to {max(1, round(high))} minutes for each listener: all of a trial heard once "
        f"through, or up to {OFTEN} times, and {ANSWER_S:g} s to answer.{rest}"
    )
