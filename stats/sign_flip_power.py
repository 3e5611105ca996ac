"""Power of the exact test of paired differences (`sign_flips`), of normal differences."""

from __future__ import annotations

from functools import lru_cache
from math import ceil, log2

import numpy as np

from . import t_test_power
from .errors import StatsError
from .estimates import PowerEstimate, simulated
from .validation import check_alpha, check_trials, check_wanted

SEED = 1  # of the data sets drawn; stated here so that anyone gets the same number
DRAWN = 4_000  # data sets: a standard error of at most 0.008
MOST_ENUMERATED = 12  # trials; 4096 ways to set the signs
MOST_SIMULATED = 200  # trials; beyond, Student's t, from which the randomisation test can no longer be told apart
CHUNK = 500  # data sets at once, for memory's sake
STEPS = 25  # of Newton's method, which climbs to the saddlepoint from below


def least_trials(alpha: float, *, two_sided: bool) -> int:
    """The fewest trials that can reach alpha: if all differ the same way p is ½ to the power of their number, or twice.

    >>> least_trials(0.05, two_sided=False), least_trials(0.0625, two_sided=False), least_trials(0.05, two_sided=True)
    (5, 4, 6)
    """
    check_alpha(alpha)
    return max(1, ceil(two_sided - log2(alpha) - 1e-12))


@lru_cache(maxsize=512)
def power(trials: int, effect: float, alpha: float, *, two_sided: bool) -> PowerEstimate:
    """The power for a mean difference of `effect` standard deviations of the differences.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    Simulated: of 4,000 data sets of normal differences (of a fixed seed) the share whose p reaches alpha. With up to
    12 trials p goes through all signs, as the test does; with more it is the saddlepoint approximation to that very
    distribution (Lugannani & Rice 1980; for randomisation tests Robinson, JRSS B 44, 1982, from memory), which is
    mostly right to a hundredth or two of p. Above 200 trials it is that of Student's t, which the test then equals.

    Examples
    --------
    >>> [power(trials, 5, 0.05, two_sided=False).power for trials in (3, 5)]
    [0.0, 1.0]

    So three trials cannot show anything at 5 %, however plain it is; five can.
    """
    check_trials(trials)
    least = least_trials(alpha, two_sided=two_sided)
    if not effect >= 0:
        raise StatsError(f"the effect is 0 or more standard deviations; got {effect!r}")
    if trials < least:
        return PowerEstimate(trials, 0.0, None, least)
    if trials > MOST_SIMULATED:
        large = t_test_power.power(trials, effect, alpha, two_sided=two_sided)
        return PowerEstimate(trials, large, None, least, "approximation")
    found = np.random.Generator(np.random.PCG64(SEED)).normal(effect, 1.0, (DRAWN, trials))
    if two_sided:  # either side counts, each with half of alpha
        found *= np.where(found.sum(axis=1, keepdims=True) < 0, -1, 1)
    p_of = enumerated_p if trials <= MOST_ENUMERATED else saddlepoint_p
    p_values = np.concatenate([p_of(found[at : at + CHUNK]) for at in range(0, DRAWN, CHUNK)]) * (1 + two_sided)
    return simulated(trials, int(np.count_nonzero(p_values <= alpha * (1 + 1e-9))), DRAWN, least)


@lru_cache(maxsize=512)
def sample_size(effect: float, wanted: float, alpha: float, *, two_sided: bool) -> int:
    """The first number of trials that reaches the power wanted.

    Raises
    ------
    StatsError
        If a number is out of range, or over 5,000 trials would be needed.

    >>> sample_size(5.0, 0.8, 0.05, two_sided=False), sample_size(0.8, 0.8, 0.05, two_sided=False)
    (5, 12)
    """
    check_wanted(wanted)
    enough = t_test_power.sample_size(effect, wanted, alpha, two_sided=two_sided) - 1
    trials = max(least_trials(alpha, two_sided=two_sided), enough)
    while power(trials, effect, alpha, two_sided=two_sided).power < wanted:
        trials += 1
    return trials


def saddlepoint_p(found: np.ndarray) -> np.ndarray:
    """P(Σ ±|d| ≥ Σ d) of each row of differences, with fair signs, approximately.

    Notes
    -----
    K(t) = Σ log cosh(t |d|); at the saddlepoint K'(t) = Σ d, with w = √(2(tΣd − K)) and u = t√K'': 1 − Φ(w) +
    φ(w)(1/u − 1/w). Where all signs are the same p is exact.
    """
    from scipy.special import ndtr

    sizes, seen = np.abs(found), found.sum(axis=1)
    number, reach, y = found.shape[1], sizes.sum(axis=1), np.abs(seen)
    t = y / (sizes**2).sum(axis=1)
    inside = y < reach * (1 - 1e-12)
    for _ in range(STEPS):
        slopes = np.tanh(t[:, None] * sizes)
        curved = (sizes**2 * (1 - slopes**2)).sum(axis=1)
        step = (y - (sizes * slopes).sum(axis=1)) / np.maximum(curved, 1e-300)
        t = np.where(inside, t + step, t)
    scaled = t[:, None] * sizes
    height = (scaled + np.log1p(np.exp(-2 * scaled)) - np.log(2.0)).sum(axis=1)
    w = np.sqrt(np.maximum(2 * (t * y - height), 0))
    u = t * np.sqrt((sizes**2 * (1 - np.tanh(scaled) ** 2)).sum(axis=1))
    usable = inside & (w > 1e-3) & (u > 1e-12)
    w, u = np.where(usable, w, 1.0), np.where(usable, u, 1.0)
    tail = ndtr(-w) + np.exp(-(w**2) / 2) / np.sqrt(2 * np.pi) * (1 / u - 1 / w)
    tail = np.where(inside, np.where(usable, tail, 0.5), 0.5**number)
    tails: np.ndarray = np.where(seen >= 0, tail, 1 - tail)
    return tails


def enumerated_p(found: np.ndarray) -> np.ndarray:
    """The same, exactly, over all signs."""
    number = found.shape[1]
    signs = 1.0 - 2.0 * ((np.arange(2**number)[:, None] >> np.arange(number)) & 1)
    sums = np.abs(found) @ signs.T
    shares: np.ndarray = np.mean(sums >= found.sum(axis=1)[:, None] - 1e-9, axis=1)
    return shares
