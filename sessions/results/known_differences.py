"""How often a plan's known difference was heard: what this listener, chain and evening could show. Pure.

Nothing of it counts; it says how much a "not shown" is worth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from stats import binomial, intervals
from stats.intervals import Interval

from ..plans.plan import Plan
from ..plans.planned_test import KNOWN_ALPHA
from .answers import SessionAnswers


@dataclass(frozen=True)
class FoundByListener:
    """In how many of their trials of the known difference a listener heard it."""

    listener: str
    heard: int
    answered: int


@dataclass(frozen=True)
class KnownReading:
    """In how many of the trials of the known difference it was heard.

    Attributes
    ----------
    what
        The difference in words.
    planned, answered
        Trials of all listeners.
    chance
        The share by guessing.
    interval, p_value
        Of the share heard (95 %, exact), and against guessing (one-sided, exact); None where none was answered.
    """

    what: str
    planned: int
    answered: int
    heard: int
    chance: float
    listeners: tuple[FoundByListener, ...]
    interval: Interval | None = None
    p_value: float | None = None

    @property
    def shown(self) -> bool:
        """Whether it was heard more often than guessing explains."""
        return self.p_value is not None and self.p_value <= KNOWN_ALPHA

    def to_document(self) -> dict[str, Any]:
        """The reading as the command line prints it; no numbers where none was answered."""
        stated: dict[str, Any] = {"what": self.what, "planned": self.planned, "answered": self.answered}
        if self.interval is None:
            return stated
        return stated | {
            "heard": self.heard,
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
    found = tuple(
        FoundByListener(own.listener, sum(plan.method.finds(one.key, one.answer) for one in own.known), len(own.known))
        for own in sessions
    )
    heard, answered = sum(one.heard for one in found), sum(one.answered for one in found)
    chance = plan.method.chance_of_finding
    bare = KnownReading(plan.known.in_words, plan.known.trials * len(found), answered, heard, float(chance), found)
    if not answered:
        return bare
    return replace(
        bare,
        interval=intervals.clopper_pearson(heard, answered),
        p_value=binomial.binomial_test(heard, answered, chance, "greater").p_value,
    )
