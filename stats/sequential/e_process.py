"""A test that may be looked at after every answer: the e-process of a uniform mixture, and its confidence sequence.

E is the likelihood of the answers under all proportions better than chance, equally weighted, over that under chance.
By chance alone it ever reaches 1/alpha with probability at most alpha (Ville's inequality), whenever and for whatever
reason the listening stops.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp, log

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, betaln, gammaln, xlog1py, xlogy

from ..errors import StatsError
from ..intervals import Interval
from ..validation import (
    Alternative,
    check_alpha,
    check_alternative,
    check_chance,
    check_counts,
    check_level,
    check_trials,
)
from .boundaries import Boundaries


def e_value(correct: int, trials: int, chance: float = 0.5, alternative: Alternative = "greater") -> float:
    """E after `trials` answers with `correct` right; 1 before the first.

    Parameters
    ----------
    alternative
        ``greater``: proportions from chance to 1 weighted equally. ``two-sided``: from 0 to 1.

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    >>> round(e_value(14, 16), 2), round(e_value(12, 16), 2)
    (64.18, 4.13)

    So 14 of 16 are 64 times likelier if it is heard more or less often than by guessing: beyond the 20 that alpha 0.05
    asks for. 12 of 16, enough for a plan of fixed length, are not.
    """
    if trials == 0:
        return 1.0
    check_counts(correct, trials)
    check_chance(chance)
    _check_side(alternative)
    return exp(float(_log_e(np.array([trials]), np.array([correct]), chance, alternative)[0]))


def anytime_p(right: Sequence[int], chance: float = 0.5, alternative: Alternative = "greater") -> float:
    """The p-value valid at any stopping time: 1 over the largest E reached on the way.

    Parameters
    ----------
    right
        The answers in order, 1 for right (or for the first), 0 otherwise.
    """
    if not right:
        return 1.0
    counts = np.cumsum(np.asarray(right, np.int64))
    return min(1.0, exp(-float(_log_e(np.arange(1, len(right) + 1), counts, chance, alternative).max())))


def e_process(
    trials: int, alpha: float = 0.05, chance: float = 0.5, alternative: Alternative = "greater"
) -> Boundaries:
    """The boundaries of the test: heard as soon as E reaches 1/alpha; given up only when that is out of reach.

    Parameters
    ----------
    trials
        The greatest number of trials.

    Raises
    ------
    StatsError
        If a number is out of range.
    """
    check_trials(trials)
    check_alpha(alpha)
    check_chance(chance)
    _check_side(alternative)
    two_sided = alternative == "two-sided"
    if two_sided and chance != 0.5:
        raise StatsError(f"a two-sided test is defined for chance 1/2 only; got {chance!r}")
    n = np.arange(1, trials + 1)
    low = np.floor(n * chance).astype(np.int64)  # never enough: E there is below 1
    high = n + 1
    while (high - low > 1).any():
        middle = (low + high) // 2
        enough = _log_e(n, np.minimum(middle, n), chance, alternative) >= -log(alpha) - 1e-12
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        low = np.minimum(low, high - 1)
    return Boundaries.from_lines(high, np.full(trials, -1), two_sided=two_sided)


def confidence_sequence(correct: int, trials: int, level: float = 0.95) -> Interval:
    """An interval that covers the true proportion at every number of trials at once, so also where a test stopped.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    All p with (n+1)·C(n, s)·p^s·(1−p)^(n−s) ≥ 1 − level (Robbins, Ann. Math. Statist. 41, 1970).

    Examples
    --------
    >>> interval = confidence_sequence(14, 16)
    >>> round(interval.low, 4), round(interval.high, 4)
    (0.5203, 0.9949)

    So with 14 of 16, stopped whenever one liked, the listener is right in more than half of such trials.
    """
    check_counts(correct, trials)
    check_level(level)
    constant = log(trials + 1) + float(gammaln(trials + 1) - gammaln(correct + 1) - gammaln(trials - correct + 1))

    def inside(p: float) -> bool:
        return constant + float(xlogy(correct, p) + xlog1py(trials - correct, -p)) >= log(1 - level)

    seen = correct / trials
    return Interval(level, _edge(seen, 0.0, inside), _edge(seen, 1.0, inside), "confidence sequence")


def _edge(inside_at: float, outside_at: float, inside: Callable[[float], bool]) -> float:
    if inside(outside_at):
        return outside_at
    for _ in range(60):
        middle = (inside_at + outside_at) / 2
        inside_at, outside_at = (middle, outside_at) if inside(middle) else (inside_at, middle)
    return inside_at


def _log_e(n: NDArray[np.int64], s: NDArray[np.int64], chance: float, alternative: Alternative) -> NDArray[np.float64]:
    log_e: NDArray[np.float64] = betaln(s + 1, n - s + 1) - xlogy(s, chance) - xlog1py(n - s, -chance)
    if alternative == "two-sided":
        return log_e
    with np.errstate(divide="ignore"):
        log_e = log_e + np.log(betainc(n - s + 1, s + 1, 1 - chance)) - np.log1p(-chance)
    return log_e


def _check_side(alternative: Alternative) -> None:
    check_alternative(alternative)
    if alternative == "less":
        raise StatsError("an e-process is one-sided (greater) or two-sided")
