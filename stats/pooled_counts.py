"""Counts of many sessions, of any number of listeners, from their sums alone: test, interval, and how unlike they are.

Needs sums only, so that whoever holds millions of answers (a database, a cluster) need not hand them over. Tails are
incomplete beta functions (scipy.special, loaded by the functions that need it): ten thousand groups take 0.3 s.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from .errors import StatsError
from .intervals import Interval
from .validation import check_chance, check_level

Side = Literal["greater", "two-sided"]


@dataclass(frozen=True)
class PooledCounts:
    """What all of them come to.

    Attributes
    ----------
    p_value
        Of the sum against guessing, the trials being independent then.
    interval
        Of the mean proportion, as if all were alike: too narrow where `dispersion` is well above 1.
    dispersion
        Pearson's chi-square for one common proportion over its degrees of freedom; 1 where listeners differ by chance
        alone, more where they differ in what they hear; None for one listener, or where all or none were right.
    dispersion_p
        How often listeners who are alike differ so much, by chi-square.
    """

    right: int
    trials: int
    listeners: int
    p_value: float
    interval: Interval
    dispersion: float | None
    dispersion_p: float | None


def pooled_counts(
    right: int, trials: int, listeners: int, squares: float, chance: float, side: Side = "greater", level: float = 0.95
) -> PooledCounts:
    """Test, interval and dispersion from the sums over listeners.

    Parameters
    ----------
    right, trials, listeners
        Sums over all of them.
    squares
        The sum over listeners of (right answers squared) / (their trials).
    chance
        The share right by guessing, between 0 and 1.
    side
        ``two-sided`` (at chance ½ alone) where either side counts, as in a preference.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    With p = right / trials: X² = (Σ rᵢ²/nᵢ − right²/trials) / (p (1 − p)), degrees of freedom listeners − 1 (Pearson's
    test of homogeneity; the algebra of Σ (rᵢ − nᵢ p)² / (nᵢ p (1 − p))).

    Examples
    --------
    Two listeners with 18 of 20 and 10 of 20. By the table of 2 × 2 the chi-square is 40·(18·10 − 2·10)² / (28·12·20·20)
    = 7.619:

    >>> found = pooled_counts(28, 40, 2, 18**2 / 20 + 10**2 / 20, 0.5)
    >>> round(found.dispersion, 3), round(found.dispersion_p, 4), round(found.p_value, 4)
    (7.619, 0.0058, 0.0083)

    So together they are right more often than guessing, and they are not alike.
    """
    check_chance(chance)
    check_level(level)
    if not (0 <= right <= trials and trials >= listeners >= 1):
        raise StatsError(
            f"{right} right of {trials} trials by {listeners} listeners cannot be; give sums over listeners"
        )
    tail = (1 - level) / 2
    low = _proportion_with_tail(right, trials, tail) if right else 0.0
    high = 1 - _proportion_with_tail(trials - right, trials, tail) if right < trials else 1.0
    dispersion = _dispersion(right, trials, listeners, squares)
    return PooledCounts(
        right,
        trials,
        listeners,
        _p_value(right, trials, chance, side),
        Interval(level, low, high, "clopper-pearson"),
        dispersion,
        None if dispersion is None else _chi_square_tail(dispersion * (listeners - 1), listeners - 1),
    )


def _p_value(right: int, trials: int, chance: float, side: Side) -> float:
    if side == "greater":
        return _at_least(right, trials, chance)
    if Fraction(chance) != Fraction(1, 2):
        raise StatsError(f"a two-sided test is for a chance of 1/2, not {chance}")
    return min(1.0, 2 * _at_least(max(right, trials - right), trials, chance))


def _at_least(count: int, trials: int, proportion: float) -> float:
    """P(X ≥ count): the regularised incomplete beta function I of `proportion`, with count and trials − count + 1."""
    from scipy.special import betainc

    return float(betainc(count, trials - count + 1, proportion)) if count else 1.0


def _proportion_with_tail(count: int, trials: int, tail: float) -> float:
    """The proportion at which P(X ≥ count) is `tail`."""
    from scipy.special import betaincinv

    return float(betaincinv(count, trials - count + 1, tail))


def _dispersion(right: int, trials: int, listeners: int, squares: float) -> float | None:
    if listeners < 2 or right in (0, trials):
        return None
    share = right / trials
    return max(0.0, squares - right * share) / (share * (1 - share)) / (listeners - 1)


def _chi_square_tail(value: float, freedom: int) -> float:
    from scipy.special import chdtrc

    return float(chdtrc(freedom, value))
