"""What a session looks like, from plain sequences and without any key: drift, sides, times, switching, sureness.

Many looks at one session find something by chance alone: a small p-value here is a question to the session, never part
of its verdict. Each look is one function; streaks are those of `runs_test`, sides those of `response_bias`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from math import erfc, isfinite, sqrt
from numbers import Integral, Real
from typing import Any

from .errors import StatsError
from .intervals import clopper_pearson
from .rank_sum import RankSum, rank_sum

HASTY_MS = 2000  # an answer sooner than this cannot follow much listening
SUREST = 4


@dataclass(frozen=True)
class Diagnostic:
    """What all of them can do."""

    def to_document(self) -> dict[str, Any]:
        """It as the command line prints it."""
        return asdict(self)


@dataclass(frozen=True)
class Quartiles:
    """A quarter of the values lies below `low`, half below `median`, three quarters below `high`."""

    count: int
    low: float
    median: float
    high: float


@dataclass(frozen=True)
class Drift(Diagnostic):
    """The means of both halves and the test of a trend; p is None if all values are the same."""

    trials: int
    first_half: float
    second_half: float
    p_value: float | None
    exact: bool


@dataclass(frozen=True)
class Times(Diagnostic):
    """Answer times of all, right and wrong answers; p is two-sided, None if there are not both kinds."""

    every: Quartiles
    right: Quartiles | None
    wrong: Quartiles | None
    p_value: float | None
    exact: bool
    hasty: int
    hasty_ms: float


@dataclass(frozen=True)
class Switching(Diagnostic):
    """Auditions a trial: median, least, and in how many trials there were fewer than needed."""

    trials: int
    median: float
    least: int
    needed: int
    short: int
    right_median: float | None
    wrong_median: float | None


@dataclass(frozen=True)
class Step:
    """One step of sureness: share right with its exact 95 % interval, None where the step was never chosen."""

    step: int
    correct: int
    trials: int
    share: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Sureness(Diagnostic):
    """Right answers at each step, and whether right answers were given more surely than wrong ones (one-sided p)."""

    steps: tuple[Step, ...]
    gamma: float | None
    p_value: float | None
    exact: bool


def drift(right: Sequence[float]) -> Drift:
    """Whether answers (0 or 1) or scores get better or worse over the session: both halves, and a test of a trend.

    The middle one of an odd number of trials counts to the first half. For 0 and 1 the test is the exact rank-sum test
    of the right answers' trial numbers (`rank_sum`); for other scores it is the permutation test of the correlation
    with the trial number in its normal approximation, and `exact` is False. Two-sided: growing tired and getting
    trained both count.

    Raises
    ------
    StatsError
        If there are fewer than two trials, or a value is not a finite number.

    Examples
    --------
    >>> found = drift([1, 1, 1, 1, 1, 1, 0, 1, 0, 0, 1, 0])
    >>> found.first_half, round(found.second_half, 2), round(found.p_value, 3)
    (1.0, 0.33, 0.048)

    So the listener may have grown tired: two of six right after six of six.
    """
    n = len(right)
    if n < 2:
        raise StatsError(f"a drift needs at least two trials; got {n}")
    for value in right:
        if isinstance(value, bool) or not isinstance(value, Real) or not isfinite(value):
            raise StatsError(f"a score must be a finite number; got {value!r}")
    middle = (n + 1) // 2
    halves = sum(right[:middle]) / middle, sum(right[middle:]) / (n - middle)
    if min(right) == max(right):
        return Drift(n, *halves, None, True)
    if all(value in (0, 1) for value in right):
        found = rank_sum(range(n), [int(value) for value in right])
        assert found is not None  # both values occur
        return Drift(n, *halves, found.p_value, found.exact)
    mean = sum(right) / n
    along = sum((place - (n - 1) / 2) * (value - mean) for place, value in enumerate(right))
    spread = sqrt(n * (n + 1) / 12 * sum((value - mean) ** 2 for value in right))  # Σ(i − mean)² = n(n² − 1)/12
    return Drift(n, *halves, erfc(abs(along) / spread / sqrt(2)), False)


def times(after_ms: Sequence[float], right: Sequence[int], hasty_ms: float = HASTY_MS) -> Times:
    """Answer times: quartiles of all, right and wrong answers, a rank-sum test between them, and how many were hasty.

    Parameters
    ----------
    after_ms
        Milliseconds from the trial's begin to its answer.
    right
        One 0 or 1 for each.
    hasty_ms
        Answers sooner than this are counted as hasty.

    Raises
    ------
    StatsError
        If there are no trials, the lengths differ, or a value is out of range.

    Examples
    --------
    >>> found = times([9000, 12000, 15000, 1500, 4000, 1800], [1, 1, 1, 0, 1, 0])
    >>> found.every.median, found.right.median, found.wrong.median, found.hasty, round(found.p_value, 3)
    (6500.0, 10500.0, 1650.0, 2, 0.133)

    So two answers came in less than two seconds, and both were wrong.
    """
    found = _compared(after_ms, right)
    chosen = [[float(value) for value, mark in zip(after_ms, right, strict=True) if mark == kind] for kind in (1, 0)]
    every = _quartiles([float(value) for value in after_ms])
    assert every is not None  # there are trials
    return Times(
        every,
        _quartiles(chosen[0]),
        _quartiles(chosen[1]),
        found.p_value if found else None,
        found.exact if found else True,
        sum(value < hasty_ms for value in after_ms),
        hasty_ms,
    )


def switching(auditions: Sequence[int], right: Sequence[int], needed: int = 3) -> Switching:
    """How much was listened: auditions a trial, and trials with fewer than needed (A, B and X once each are three).

    Raises
    ------
    StatsError
        If there are no trials, the lengths differ, or a value is out of range.

    Examples
    --------
    >>> switching([7, 4, 2, 9, 5], [1, 1, 0, 1, 0])
    Switching(trials=5, median=5.0, least=2, needed=3, short=1, right_median=7.0, wrong_median=3.5)

    So one answer was given before all three had been heard.
    """
    from statistics import median

    _compared(auditions, right)
    chosen = [[value for value, mark in zip(auditions, right, strict=True) if mark == kind] for kind in (1, 0)]
    heard, missed = (float(median(values)) if values else None for values in chosen)
    short = sum(value < needed for value in auditions)
    return Switching(len(auditions), float(median(auditions)), min(auditions), needed, short, heard, missed)


def sureness(steps: Sequence[int], right: Sequence[int], surest: int = SUREST) -> Sureness:
    """Whether the listener knows when they hear it: share right at each step of sureness, and a one-sided exact test.

    Parameters
    ----------
    steps
        1 (a guess) to `surest`, one a trial.
    right
        One 0 or 1 for each.

    Raises
    ------
    StatsError
        If there are no trials, the lengths differ, or a value is out of range.

    Notes
    -----
    The test is the rank-sum test of the steps of right against wrong answers, ties included (`rank_sum`); Goodman and
    Kruskal's gamma goes from −1 (wrong answers are the surer ones) to 1. Both are None where there is nothing to
    compare: all right, all wrong, or (gamma) always the same step.

    Examples
    --------
    >>> found = sureness([1, 1, 2, 2, 3, 3, 4, 4], [0, 1, 0, 1, 1, 1, 1, 1])
    >>> [one.share for one in found.steps], round(found.gamma, 2), round(found.p_value, 3)
    ([0.5, 0.5, 1.0, 1.0], 0.8, 0.179)

    So what was answered surely was right here, but eight trials are too few to tell.
    """
    found = _compared(steps, right)
    for step in steps:
        if not isinstance(step, Integral) or not 1 <= step <= surest:
            raise StatsError(f"sureness is a whole number from 1 to {surest}; got {step!r}")
    listed = []
    for step in range(1, surest + 1):
        chosen = [int(mark) for one, mark in zip(steps, right, strict=True) if one == step]
        if chosen:
            interval = clopper_pearson(sum(chosen), len(chosen))
            share, low, high = sum(chosen) / len(chosen), interval.low, interval.high
            listed.append(Step(step, sum(chosen), len(chosen), share, low, high))
        else:
            listed.append(Step(step, 0, 0, None, None, None))
    if found is None:
        return Sureness(tuple(listed), None, None, True)
    return Sureness(tuple(listed), found.gamma, found.p_larger, found.exact)


def _compared(values: Sequence[float], right: Sequence[int]) -> RankSum | None:
    found = rank_sum(values, right)
    if not values:
        raise StatsError("there are no trials to look at")
    return found


def _quartiles(values: list[float]) -> Quartiles | None:
    from statistics import quantiles

    if not values:
        return None
    low, middle, high = quantiles(values, n=4, method="inclusive") if len(values) > 1 else values * 3
    return Quartiles(len(values), low, middle, high)
