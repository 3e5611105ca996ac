"""Power and sample size of the permutation test of many stimuli's grades (`multi_stimulus`), with Holm's correction."""

from __future__ import annotations

from functools import lru_cache
from math import ceil, log2, sqrt

import numpy as np

from .errors import StatsError
from .estimates import PowerEstimate, simulated
from .validation import check_alpha, check_trials, check_wanted

SEED = 1  # of the data sets and exchanges drawn; stated here so that anyone gets the same number
DRAWN = 500  # data sets: a standard error of at most 0.022
MOST_ENUMERATED = 11  # trials; 1024 exchanges, the other half being their mirror images
LEAST_EXCHANGES, MOST_EXCHANGES, BATCH = 800, 2_000, 200  # drawn where there are more trials
MOST_SIMULATED = 60  # trials; beyond, the large-sample efficiency of the median
EFFICIENCY = 0.6366197723675814  # 2/π: of medians beside means, for normal grades
MOST_SEARCHED = 20_000


def compared(setups: int) -> int:
    """How many pairs of setups there are.

    Raises
    ------
    StatsError
        If there are fewer than two setups.
    """
    if setups < 2:
        raise StatsError(f"at least two setups are compared; got {setups!r}")
    return setups * (setups - 1) // 2


def least_trials(alpha: float, setups: int) -> int:
    """The fewest trials with which a pair can pass Holm's first step: two of the 2ⁿ exchanges are as far apart.

    >>> least_trials(0.05, 2), least_trials(0.05, 3), least_trials(0.05, 7)
    (6, 7, 10)
    """
    check_alpha(alpha)
    return max(1, ceil(1 - log2(alpha / compared(setups)) - 1e-12))


@lru_cache(maxsize=512)
def power(trials: int, effect: float, alpha: float = 0.05, setups: int = 2) -> PowerEstimate:
    """The power to tell two setups apart whose grades differ by `effect` standard deviations of the differences.

    Parameters
    ----------
    trials
        Of all listeners together.
    setups
        How many are compared: the pair must pass the strictest level of Holm's correction, alpha over their pairs.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    Simulated: of 500 data sets of grades (normal, the two setups' independent of each other and equally spread; of
    a fixed seed) the share in which the permutation test of the difference of medians reaches that level. Up to 11
    trials p goes through all exchanges, as the test does; with more it is drawn anew for each data set. Above 60
    trials it is Φ(effect √(2n/π) − z): a difference of medians is as sure as that of means of 2/π as many trials. That
    lies some 0.03 below what simulation finds.

    Examples
    --------
    >>> power(4, 5, setups=3).power, power(4, 5, setups=3).least
    (0.0, 7)

    So four trials of three setups cannot show anything at 5 %, however plain it is; that begins with seven.
    """
    check_trials(trials)
    least = least_trials(alpha, setups)
    if not effect >= 0:
        raise StatsError(f"the effect is 0 or more standard deviations; got {effect!r}")
    if trials < least:
        return PowerEstimate(trials, 0.0, None, least)
    level = alpha / compared(setups)
    if trials > MOST_SIMULATED:
        return PowerEstimate(trials, _of_many(trials, effect, level), None, least, "approximation")
    rng = np.random.Generator(np.random.PCG64(SEED))
    spread = sqrt(0.5)  # of each setup's grades, so that their difference has a spread of 1
    every = None if trials > MOST_ENUMERATED else _exchanges(trials)
    number = BATCH * min(MOST_EXCHANGES // BATCH, max(LEAST_EXCHANGES // BATCH, ceil(20 / level / BATCH)))
    reached = 0
    for _ in range(DRAWN):
        one, two = rng.normal(effect, spread, trials), rng.normal(0.0, spread, trials)
        if every is None:
            reached += _reaches(one, two, level, number, rng)
        else:
            reached += _share_as_far(one, two, every) <= level * (1 + 1e-9)
    return simulated(trials, reached, DRAWN, least)


@lru_cache(maxsize=512)
def sample_size(effect: float, wanted: float = 0.8, alpha: float = 0.05, setups: int = 2) -> int:
    """Trials (of all listeners together) needed for the power wanted.

    Raises
    ------
    StatsError
        If a number is out of range, or over 20,000 would be needed.

    Notes
    -----
    Counted up, or down, from where the large-sample formula says; even and odd numbers make it waver a little.

    >>> sample_size(0.25), sample_size(5.0, setups=3)
    (198, 9)
    """
    check_wanted(wanted)
    if not effect > 0:
        raise StatsError(f"the effect to be found is above 0 standard deviations; got {effect!r}")
    least, level = least_trials(alpha, setups), alpha / compared(setups)
    trials = least
    while _of_many(trials, effect, level) < wanted:
        trials += 1
        if trials > MOST_SEARCHED:
            raise StatsError(f"more than {MOST_SEARCHED} trials would be needed to find a difference of {effect!r}")
    while power(trials, effect, alpha, setups).power < wanted:
        trials += 1
    while least < trials <= MOST_SIMULATED and power(trials - 1, effect, alpha, setups).power >= wanted:
        trials -= 1
    return trials


def medians_apart(one: np.ndarray, two: np.ndarray, turned: np.ndarray) -> np.ndarray:
    """How far the two medians lie apart after exchanging the trials marked.

    Parameters
    ----------
    one, two
        Grades of the two in the same trials; shape (trials,).
    turned
        Shape (trials, exchanges).

    Notes
    -----
    All grades are put in order once; each exchange then only says whose each of them is, and a running count finds the
    middle ones.
    """
    trials = len(one)
    both = np.concatenate([one, two])
    order = np.argsort(both, kind="stable")
    values, number = both[order], np.int8 if trials < 128 else np.int32
    firsts: np.ndarray = np.cumsum(np.concatenate([~turned, turned])[order], axis=0, dtype=number)
    seconds: np.ndarray = np.arange(1, 2 * trials + 1, dtype=np.int32)[:, None].astype(number) - firsts
    middle = {(trials + 1) // 2, trials // 2 + 1}
    one_median, two_median = (
        np.mean([values[(running < place).sum(axis=0, dtype=np.int32)] for place in middle], axis=0)
        for running in (firsts, seconds)
    )
    apart: np.ndarray = np.abs(one_median - two_median)
    return apart


def _exchanges(trials: int) -> np.ndarray:
    """One of each exchange and its mirror image, which are equally far apart."""
    turned: np.ndarray = (np.arange(2 ** (trials - 1)) >> np.arange(trials)[:, None]) & 1 == 1
    return turned


def _share_as_far(one: np.ndarray, two: np.ndarray, turned: np.ndarray) -> float:
    seen = abs(float(np.median(one) - np.median(two)))
    return float(np.mean(medians_apart(one, two, turned) >= seen - 1e-9))


def _reaches(one: np.ndarray, two: np.ndarray, level: float, number: int, rng: np.random.Generator) -> bool:
    """Whether p = (b + 1)/(number + 1) reaches the level; given up as soon as b is too great for that."""
    far, most = 0.0, level * (number + 1) - 1
    for _ in range(number // BATCH):
        turned = rng.integers(0, 2, (len(one), BATCH), dtype=np.bool_)
        far += _share_as_far(one, two, turned) * BATCH
        if far > most:
            return False
    return True


def _of_many(trials: int, effect: float, level: float) -> float:
    from scipy.special import ndtr, ndtri

    return float(ndtr(effect * sqrt(EFFICIENCY * trials) + ndtri(level / 2)))
