"""What a count, a chance and a level may be; one place for the refusals. Pure."""

from __future__ import annotations

from fractions import Fraction
from numbers import Integral, Real
from typing import Literal

from .errors import StatsError

Alternative = Literal["greater", "less", "two-sided"]
ALTERNATIVES = ("greater", "less", "two-sided")
MOST_TRIALS = 100_000  # beyond it a count is a typing slip, and exact sums become slow


def check_counts(correct: int, trials: int) -> None:
    """Nothing, if the counts are whole, 1 ≤ trials ≤ `MOST_TRIALS` and 0 ≤ correct ≤ trials; otherwise StatsError."""
    check_trials(trials)
    if isinstance(correct, bool) or not isinstance(correct, Integral) or not 0 <= correct <= trials:
        raise StatsError(f"the count must be a whole number from 0 to the {trials} trials; got {correct!r}")


def check_trials(trials: int) -> None:
    """Nothing, if the number of trials is whole and within range; otherwise StatsError."""
    if isinstance(trials, bool) or not isinstance(trials, Integral) or not 1 <= trials <= MOST_TRIALS:
        raise StatsError(f"trials must be a whole number from 1 to {MOST_TRIALS}; got {trials!r}")


def check_alpha(alpha: float) -> None:
    """Nothing, if 0 < alpha < 1; otherwise StatsError."""
    _check_inside("alpha", alpha)


def check_level(level: float) -> None:
    """Nothing, if 0 < level < 1; otherwise StatsError."""
    _check_inside("the confidence level", level)


def check_wanted(wanted: float) -> None:
    """Nothing, if the power wanted is between 0 and 1; otherwise StatsError."""
    _check_inside("the power wanted", wanted)


def check_chance(chance: float | Fraction) -> None:
    """Nothing, if 0 < chance < 1; otherwise StatsError."""
    _check_inside("chance", chance)


def check_proportion(proportion: float) -> None:
    """Nothing, if 0 ≤ proportion ≤ 1; otherwise StatsError."""
    if isinstance(proportion, bool) or not isinstance(proportion, Real) or not 0 <= proportion <= 1:
        raise StatsError(f"a proportion is a number from 0 to 1; got {proportion!r}")


def check_alternative(alternative: str) -> None:
    """Nothing, if the alternative is one of `ALTERNATIVES`; otherwise StatsError."""
    if alternative not in ALTERNATIVES:
        raise StatsError(f"the alternative is one of {', '.join(ALTERNATIVES)}; got {alternative!r}")


def _check_inside(name: str, value: float | Fraction) -> None:
    if isinstance(value, bool) or not isinstance(value, (Real, Fraction)) or not 0 < value < 1:
        raise StatsError(f"{name} must lie between 0 and 1; got {value!r}")
