"""How often a plan's known difference was heard: what its listeners could hear in the same sessions. Pure.

Nothing of it counts; it says how much a "not shown" is worth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from stats import binomial, intervals
from stats.intervals import Interval

from ..plans.methods.counted import CountedMethod
from ..plans.methods.same_different import DIFFERENT
from ..plans.plan import Plan
from ..plans.planned_test import KNOWN_ALPHA
from .answers import Answer, SessionAnswers


@dataclass(frozen=True)
class FoundByListener:
    """How many of their trials of the known difference a listener answered right."""

    listener: str
    right: int
    answered: int


@dataclass(frozen=True)
class SaidDifferent:
    """In how many of the trials that differed, and of those that were the same, "different" was said."""

    hits: int
    different_trials: int
    false_alarms: int
    same_trials: int


@dataclass(frozen=True)
class KnownReading:
    """How many of the trials of the known difference were answered right.

    Attributes
    ----------
    what
        The difference in words.
    planned, answered
        Trials of all listeners.
    right
        Those in which it was heard (or guessed). Where the question is whether two are the same, a trial in which both
        have the difference is among them if "same" was said: then `said_different` says how it came about.
    chance
        The share by guessing.
    interval, p_value
        Of the share right (95 %, exact), and against guessing (one-sided, exact); None where none was answered.
    listeners
        Those who answered any.
    """

    what: str
    planned: int
    answered: int
    right: int
    chance: float
    listeners: tuple[FoundByListener, ...] = ()
    interval: Interval | None = None
    p_value: float | None = None
    said_different: SaidDifferent | None = None

    @property
    def shown(self) -> bool:
        """Whether more were right than guessing explains."""
        return self.p_value is not None and self.p_value <= KNOWN_ALPHA

    def to_document(self) -> dict[str, Any]:
        """The reading as the command line prints it; no numbers where none was answered."""
        stated: dict[str, Any] = {"what": self.what, "planned": self.planned, "answered": self.answered}
        if self.interval is None:
            return stated
        stated |= {} if self.said_different is None else {"said_different": asdict(self.said_different)}
        return stated | {
            "right": self.right,
            "chance": self.chance,
            "interval": asdict(self.interval),
            "p_value": self.p_value,
            "shown": self.shown,
            "listeners": [asdict(one) for one in self.listeners],
        }


def read(plan: Plan, sessions: Sequence[SessionAnswers]) -> KnownReading | None:
    """How the known difference was heard; None of a plan without one."""
    if plan.known is None:
        return None
    found = [
        FoundByListener(own.listener, sum(plan.method.finds(one.key, one.answer) for one in own.known), len(own.known))
        for own in sessions
    ]
    right, answered = sum(one.right for one in found), sum(one.answered for one in found)
    chance = plan.method.chance_of_finding
    bare = KnownReading(plan.known.in_words, plan.known.trials * len(found), answered, right, float(chance))
    if not answered:
        return bare
    return replace(
        bare,
        listeners=tuple(one for one in found if one.answered),
        interval=intervals.clopper_pearson(right, answered),
        p_value=binomial.binomial_test(right, answered, chance, "greater").p_value,
        said_different=_said_different(plan, [one for own in sessions for one in own.known]),
    )


def _said_different(plan: Plan, given: Sequence[Answer]) -> SaidDifferent | None:
    """None of methods that ask something else."""
    if not isinstance(plan.method, CountedMethod) or not plan.method.asks_whether_same:
        return None
    different = [one.answer for one in given if len(set(one.key.values())) > 1]
    same = [one.answer for one in given if len(set(one.key.values())) == 1]
    return SaidDifferent(different.count(DIFFERENT), len(different), same.count(DIFFERENT), len(same))
