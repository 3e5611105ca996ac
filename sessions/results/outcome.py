"""What the planned test of a plan found, whatever its method: the shape that verdicts are made of. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from stats.intervals import Interval


@dataclass(frozen=True)
class ListenerCount:
    """One listener's part: planned and answered trials, the count that matters, its p-value; exploratory."""

    listener: str
    trials: int
    answered: int
    correct: int | None
    p_value: float


@dataclass(frozen=True)
class Finding:
    """The planned test's outcome.

    Attributes
    ----------
    reached
        Whether the planned test reached its criterion.
    complete
        Whether every planned trial was answered, or a sequential plan came to its end.
    trials, answered
        Trials that the test rests on, and how many of them were answered.
    correct, interval, d_prime, allowed
        Of counted methods: the count, its proportion's interval, the sensitivity, the largest share still allowed.
    preferred
        The setup preferred, where a preference was heard.
    analysis
        What else the method's analysis gives, as plain values.
    void
        Why the result cannot count, as far as the answers tell.
    """

    reached: bool
    complete: bool
    p_value: float
    trials: int
    answered: int
    correct: int | None = None
    interval: Interval | None = None
    d_prime: float | None = None
    allowed: float | None = None
    preferred: str | None = None
    listeners: list[ListenerCount] = field(default_factory=list)
    analysis: dict[str, Any] = field(default_factory=dict)
    void: list[str] = field(default_factory=list)


def plain_interval(interval: Interval) -> dict[str, Any]:
    """An interval as plain values."""
    return {"level": interval.level, "low": interval.low, "high": interval.high, "kind": interval.kind}
