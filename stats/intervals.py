"""Confidence intervals for a proportion: Clopper-Pearson (exact) and Wilson (score)."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from .binomial_tail import proportion_with_tail
from .validation import check_counts, check_level


@dataclass(frozen=True)
class Interval:
    """A two-sided interval: its level, its ends and its kind."""

    level: float
    low: float
    high: float
    kind: str


def clopper_pearson(correct: int, trials: int, level: float = 0.95) -> Interval:
    """The exact (equal-tailed) interval: it covers the true proportion with at least the stated level.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    Ends are beta quantiles; at 0 correct the low end is 0, at all correct the high end is 1 (Clopper and Pearson,
    Biometrika 26, 1934).

    Examples
    --------
    Newcombe, Stat. Med. 17 (1998), Table I: 81 of 263 gives .2527 to .3676.

    >>> interval = clopper_pearson(81, 263)
    >>> round(interval.low, 4), round(interval.high, 4)
    (0.2527, 0.3676)

    So between a quarter and 37 % of all such cases.
    """
    check_counts(correct, trials)
    check_level(level)
    return of_any_size(correct, trials, level)


def of_any_size(correct: int, trials: int, level: float) -> Interval:
    """The exact interval of counts that are checked already, also of more trials than anybody types."""
    tail = (1 - level) / 2
    low = proportion_with_tail(correct, trials, tail) if correct else 0.0
    return Interval(level, low, _high(correct, trials, tail), "clopper-pearson")


def wilson(correct: int, trials: int, level: float = 0.95) -> Interval:
    """The score interval: on average closer to the stated level than the exact one, sometimes below it.

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    Newcombe, Stat. Med. 17 (1998), Table I: 15 of 148 gives .0624 to .1605.

    >>> interval = wilson(15, 148)
    >>> round(interval.low, 4), round(interval.high, 4)
    (0.0624, 0.1605)
    """
    check_counts(correct, trials)
    check_level(level)
    z = NormalDist().inv_cdf((1 + level) / 2)
    share = correct / trials
    centre = share + z * z / (2 * trials)
    half = z * sqrt(share * (1 - share) / trials + z * z / (4 * trials * trials))
    scale = 1 + z * z / trials
    low = 0.0 if correct == 0 else (centre - half) / scale
    high = 1.0 if correct == trials else (centre + half) / scale
    return Interval(level, low, high, "wilson")


def upper_bound(correct: int, trials: int, level: float = 0.95) -> float:
    """The exact one-sided upper bound of a proportion."""
    check_counts(correct, trials)
    check_level(level)
    return _high(correct, trials, 1 - level)


def _high(correct: int, trials: int, tail: float) -> float:
    """The proportion at which so few right, or fewer, have this probability: at which so many wrong have it."""
    return 1 - proportion_with_tail(trials - correct, trials, tail) if correct < trials else 1.0
