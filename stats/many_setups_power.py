"""What a blind ballot of several words can find at all, where more than two setups are heard in each trial. Pure.

Each word is judged by exchanging the setups' labels within each trial (`permuted_labels`). A power is the share of
simulated ballots that this very test finds (`many_setups_p`).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import comb, factorial

import numpy as np
from numpy.typing import NDArray

from . import many_setups_p, simulated_ratings
from .errors import StatsError
from .estimates import PowerEstimate, simulated
from .validation import check_alpha, check_proportion, check_trials, check_wanted

SEED = 1  # of the data sets drawn; stated here so that anyone gets the same number
DRAWN = 600  # simulated ballots: a standard error of at most 0.02
MOST_TESTED = 60  # trials; beyond, the chi-square of Cochran's statistic, which the test is near then
MOST_TRIALS = 500  # no listener hears more; the search for a number of trials ends there
ROUNDING = 1e-9


def least_trials(setups: int, alpha: float, *, rated: bool) -> int:
    """The fewest trials with which labels exchanged within trials can reach alpha at all.

    If every trial points the same way, as many ways to exchange its labels as there are go as far: all orders of
    ratings that differ, or all choices of the half that is ticked.

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    >>> least_trials(3, 0.005, rated=False), least_trials(3, 0.005, rated=True), least_trials(2, 0.05, rated=False)
    (6, 4, 6)

    So of three setups, ten words at 5 % in all, six trials of ticks can show something and five cannot: 3 · (1/3)⁵ is
    0.012.
    """
    check_alpha(alpha)
    trials = 1
    while least_p(setups, trials, rated=rated) > alpha * (1 + 1e-12):
        trials += 1
    return trials


def least_p(setups: int, trials: int, *, rated: bool) -> float:
    """The least p that a word can have: every trial points the same way.

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    >>> least_p(2, 8, rated=False), round(least_p(3, 6, rated=False), 6), round(least_p(3, 4, rated=True), 6)
    (0.0078125, 0.004115, 0.00463)

    So eight trials of two setups give 2/2⁸, six of three setups (1/3)⁵, four in which all three are rated (1/6)³.
    """
    check_trials(trials)
    if setups < 2:
        raise StatsError(f"two setups at least are compared; got {setups}")
    ways = factorial(setups) if rated else comb(setups, setups // 2)
    return float(ways) ** (1 - trials)


@lru_cache(maxsize=512)
def ticks_power(rate: float, other_rate: float, setups: int, trials: int, alpha: float) -> PowerEstimate:
    """The power for a word ticked of one setup at `rate` and of each other one at `other_rate`, trial by trial.

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    >>> ticks_power(0.9, 0.1, 3, 24, 0.005).power > 0.99, ticks_power(0.9, 0.1, 3, 5, 0.005).power
    (True, 0.0)
    """
    check_proportion(rate)
    check_proportion(other_rate)
    rates = np.array([rate, *[other_rate] * (setups - 1)])
    return _power(lambda rng, shape: (rng.random(shape) < rates).astype(float), setups, trials, alpha, rated=False)


@lru_cache(maxsize=512)
def ratings_power(effect: float, setups: int, trials: int, alpha: float) -> PowerEstimate:
    """The power for a word whose ratings of one setup lie `effect` standard deviations above those of each other one.

    The standard deviation is that of one setup's ratings from trial to trial; they are whole numbers on their scale
    (`simulated_ratings`). Errors are those of `ticks_power`.
    """
    if not effect >= 0:
        raise StatsError(f"the effect is 0 or more standard deviations; got {effect!r}")
    return _power(lambda rng, shape: simulated_ratings.drawn(rng, *shape, effect), setups, trials, alpha, rated=True)


def trials_needed(power: Callable[[int], float], least: int, wanted: float) -> int | None:
    """The fewest trials whose power is the one wanted, by halving; None above `MOST_TRIALS`.

    Raises
    ------
    StatsError
        If the power wanted is out of range.
    """
    check_wanted(wanted)
    low, high = least - 1, least
    while power(high) < wanted:
        low, high = high, 2 * high
        if low > MOST_TRIALS:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if power(middle) >= wanted else (middle, high)
    return high if high <= MOST_TRIALS else None


def _power(
    draw: Callable[[np.random.Generator, tuple[int, int, int]], NDArray[np.float64]],
    setups: int,
    trials: int,
    alpha: float,
    *,
    rated: bool,
) -> PowerEstimate:
    from scipy.special import chdtri

    check_trials(trials)
    least = least_trials(setups, alpha, rated=rated)
    if trials < least:
        return PowerEstimate(trials, 0.0, None, least)
    rng = np.random.Generator(np.random.PCG64(SEED))
    data = draw(rng, (DRAWN, trials, setups))
    if trials <= MOST_TESTED:
        found = many_setups_p.p_values(data, alpha, rng)
        return simulated(trials, int(np.count_nonzero(found <= alpha * (1 + ROUNDING))), DRAWN, least)
    apart = data - data.mean(axis=2, keepdims=True)
    within = (apart**2).sum(axis=(1, 2))
    q = (setups - 1) * (apart.sum(axis=1) ** 2).sum(axis=1) / np.where(within > 0, within, np.inf)
    return PowerEstimate(trials, float(np.mean(q >= chdtri(setups - 1, alpha))), None, least, "approximation")
