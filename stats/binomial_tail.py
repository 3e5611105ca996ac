"""Tails of the binomial for proportions that are no plain ratios, and where a tail has a given size. Pure.

Needs the standard library alone: scipy.special, which would give the same, takes longer to load than all the rest of a
command. `binomial` has the exact tails by guessing, in whole numbers.
"""

from __future__ import annotations

from functools import lru_cache
from math import exp, expm1, inf, lgamma, log, log1p, pi

ENOUGH = 1e-17  # of the sum so far: terms fall from here on, so that what is left out no longer counts


def log_probability(count: int, trials: int, proportion: float) -> float:
    """The logarithm of P(X = count), without the loss of digits that factorials of large numbers bring.

    Notes
    -----
    The saddle-point form: Stirling's error of each factorial, and the deviance of count and of the rest (C. Loader,
    "Fast and accurate computation of binomial probabilities", 2000; used by R's dbinom).
    """
    if not 0 <= count <= trials:
        return -inf
    rest = trials - count
    if proportion in (0, 1):
        return 0.0 if count == (trials if proportion else 0) else -inf
    if count == 0:
        return trials * log1p(-proportion)
    if rest == 0:
        return trials * log(proportion)
    errors = _stirling_error(trials) - _stirling_error(count) - _stirling_error(rest)
    apart = _deviance(count, trials * proportion) + _deviance(rest, trials * (1 - proportion))
    return errors - apart + log(trials / (2 * pi * count * rest)) / 2


def log_at_least(count: int, trials: int, proportion: float) -> float:
    """The logarithm of P(X ≥ count).

    Examples
    --------
    Leventhal, JAES 34(6), 1986: a listener who is right in 70 % of trials misses 12 of 16 with probability .5501.

    >>> from math import exp
    >>> round(1 - exp(log_at_least(12, 16, 0.7)), 4)
    0.5501
    """
    if count <= 0:
        return 0.0
    if count > trials or proportion <= 0:
        return -inf
    if count > trials * proportion:
        return _log_falling(count, trials, proportion)
    below = _log_falling(trials - count + 1, trials, 1 - proportion)  # fewer right is more wrong
    return log(-expm1(below)) if below < 0 else -inf


def at_least(count: int, trials: int, proportion: float) -> float:
    """P(X ≥ count)."""
    return exp(log_at_least(count, trials, proportion))


def proportion_with_tail(count: int, trials: int, tail: float) -> float:
    """The proportion at which P(X ≥ count) is `tail`, for 1 ≤ count ≤ trials: a quantile of the beta distribution."""
    wanted = log(tail)
    low, high = 0.0, 1.0
    while low < (middle := (low + high) / 2) < high and high - low > 1e-15 * middle:
        low, high = (middle, high) if log_at_least(count, trials, middle) < wanted else (low, middle)
    return middle


def _log_falling(count: int, trials: int, proportion: float) -> float:
    """The same from above the mean, where each term is smaller than the one before."""
    odds = proportion / (1 - proportion) if proportion < 1 else inf
    term = total = 1.0
    for number in range(count, trials):
        term *= (trials - number) / (number + 1) * odds
        total += term
        if term < ENOUGH * total:
            break
    return log_probability(count, trials, proportion) + log(total)


@lru_cache(maxsize=256)
def _stirling_error(number: int) -> float:
    """How far Stirling's formula falls short of the logarithm of a factorial."""
    if number < 16:
        return lgamma(number + 1) - (number + 0.5) * log(number) + number - log(2 * pi) / 2
    square = number * number
    return (1 / 12 - (1 / 360 - (1 / 1260 - (1 / 1680 - 1 / 1188 / square) / square) / square) / square) / number


def _deviance(count: float, mean: float) -> float:
    """How much a count deviates: count · ln(count / mean) + mean − count, by its series where terms would cancel."""
    gap = count - mean
    if abs(gap) >= 0.1 * (count + mean):
        return count * log(count / mean) - gap
    share = gap / (count + mean)
    total, power, number = gap * share, 2 * count * share, 1
    while True:
        power *= share * share
        further = total + power / (2 * number + 1)
        if further == total:
            return total
        total, number = further, number + 1
