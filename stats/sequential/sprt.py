"""Wald's sequential probability ratio test, cut off at a greatest number of trials, with its true error rate kept.

Wald's lines (Wald 1947; ISO 16820) hold their error rates only nearly, and cutting the test off changes them. So the
lines are computed, the real error rate follows exactly from the lattice, the upper line is raised where it must be,
and the count that still shows it at the last trial is the smallest that the error rate left over allows.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from ..errors import StatsError
from ..validation import Alternative, check_alpha, check_alternative, check_chance, check_trials
from .boundaries import Boundaries
from .operating_characteristics import characteristics, still_at_it

ROUNDING = 1e-9


@dataclass(frozen=True)
class Lines:
    """Wald's lines on the number right after n answers: stop at lower + slope·n or below, upper + slope·n or above."""

    slope: float
    lower: float
    upper: float


def wald_lines(effect: float, alpha: float = 0.05, beta: float = 0.1, chance: float = 0.5) -> Lines:
    """The two parallel lines of the test of `chance` against `effect`.

    Raises
    ------
    StatsError
        If a number is out of range, or the effect is not better than chance.

    Notes
    -----
    With D = ln(p1/p0) + ln((1−p0)/(1−p1)): slope ln((1−p0)/(1−p1))/D, lower ln(β/(1−α))/D, upper ln((1−β)/α)/D.

    Examples
    --------
    ISO 16820, example 1 (triangle, ⅓ against ⅔, α .05, β .10; from memory):

    >>> lines = wald_lines(2 / 3, 0.05, 0.10, 1 / 3)
    >>> round(lines.lower, 3), round(lines.upper, 3), round(lines.slope, 3)
    (-1.624, 2.085, 0.5)

    So after 10 trials 8 right show it, and 3 or fewer end it.
    """
    check_alpha(alpha)
    check_alpha(beta)
    check_chance(chance)
    if not chance < effect < 1:
        raise StatsError(f"the proportion to be found lies between chance ({chance:g}) and 1; got {effect!r}")
    if alpha + beta >= 1:
        raise StatsError(f"the two error rates must sum to less than 1; got {alpha:g} and {beta:g}")
    more, less = log(effect / chance), log((1 - chance) / (1 - effect))
    return Lines(less / (more + less), log(beta / (1 - alpha)) / (more + less), log((1 - beta) / alpha) / (more + less))


def sprt(
    trials: int,
    effect: float,
    alpha: float = 0.05,
    beta: float = 0.1,
    chance: float = 0.5,
    alternative: Alternative = "greater",
) -> Boundaries:
    """The boundaries of the test, cut off after `trials`, whose real error rate is at most alpha.

    Parameters
    ----------
    trials
        The greatest number of trials.
    effect
        The proportion to be found with power 1 − beta (before the test is cut off).
    alternative
        ``greater``; or ``two-sided`` at chance ½: a test for each side with alpha/2, given up when both are.

    Raises
    ------
    StatsError
        If a number is out of range.
    """
    check_trials(trials)
    check_alternative(alternative)
    two_sided = alternative == "two-sided"
    if alternative == "less" or (two_sided and chance != 0.5):
        raise StatsError("a sequential test is one-sided (greater), or two-sided at chance 1/2")
    lines = wald_lines(effect, alpha / 2 if two_sided else alpha, beta, chance)
    n = np.arange(1, trials + 1)
    quit_to = np.floor(lines.lower + lines.slope * n + ROUNDING).astype(np.int64)

    def heard_from(upper: float) -> NDArray[np.int64]:
        line: NDArray[np.int64] = np.ceil(upper + lines.slope * n - ROUNDING).astype(np.int64)
        return line

    def made(upper: float) -> Boundaries:
        return Boundaries.from_lines(heard_from(upper), quit_to, two_sided=two_sided, to_the_end=True)

    def error(upper: float) -> float:
        return characteristics(made(upper), chance).heard

    upper = lines.upper
    if error(upper) > alpha:
        low, high = upper, upper + 1
        while error(high) > alpha:
            low, high = high, high + 1
        while high - low > 1e-3:
            middle = (low + high) / 2
            low, high = (middle, high) if error(middle) > alpha else (low, middle)
        upper = high
    line = heard_from(upper)
    line[-1] = _last_criterion(made(upper), alpha, chance, 2 if two_sided else 1)
    return Boundaries.from_lines(line, quit_to, two_sided=two_sided)


def _last_criterion(made: Boundaries, alpha: float, chance: float, sides: int) -> int:
    """The smallest count at the last trial that the error rate left over allows, for each of the sides."""
    heard, chances = still_at_it(made, chance)
    criterion = int(made.heard_from[-1])
    spent = heard + sides * float(chances[criterion:].sum())
    while criterion - 1 > made.trials * chance and spent + sides * chances[criterion - 1] <= alpha:
        criterion -= 1
        spent += sides * chances[criterion]
    return criterion
