"""What a blind ballot of rated words can find between two setups, by its own test (`sign_flips`), simulated. Pure."""

from __future__ import annotations

from functools import lru_cache
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from . import simulated_ratings, t_test_power
from .errors import StatsError
from .estimates import PowerEstimate, simulated
from .sign_flip_power import least_trials
from .validation import check_trials, check_wanted

SEED = 1  # of the ratings drawn; stated here so that anyone gets the same number
DRAWN = 4_000  # sets of ratings: a standard error of at most 0.008
MOST_SIMULATED = 200  # trials; beyond, Student's t, from which the test can no longer be told apart
MOST_AT_ONCE = 2_000_000  # chances gone through at once, for memory's sake
ROUNDING = 1e-9
NOTHING = -46.0  # the logarithm of 1e-20: what is less adds nothing


@lru_cache(maxsize=512)
def power(trials: int, effect: float, alpha: float) -> PowerEstimate:
    """The power for ratings of two setups whose mean difference is `effect` standard deviations of the differences.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    Of 4,000 simulated sets of whole-number ratings (`simulated_ratings`, fixed seed) the share whose exact p reaches
    alpha. Whole numbers tie, and cases as far apart as the one seen count with it: so this is less than the power of
    differences that never tie.

    Examples
    --------
    >>> [power(trials, 5, 0.005).power for trials in (8, 9)]
    [0.0, 1.0]

    So of ten words at 5 % in all nine trials can show something and eight cannot.
    """
    check_trials(trials)
    least = least_trials(alpha, two_sided=True)
    if not effect >= 0:
        raise StatsError(f"the effect is 0 or more standard deviations; got {effect!r}")
    if trials < least:
        return PowerEstimate(trials, 0.0, None, least)
    if trials > MOST_SIMULATED:
        return PowerEstimate(
            trials, t_test_power.power(trials, effect, alpha, two_sided=True), None, least, "approximation"
        )
    rng = np.random.Generator(np.random.PCG64(SEED))
    ratings = simulated_ratings.drawn(rng, DRAWN, trials, 2, effect * sqrt(2))
    found = two_sided_p(ratings[..., 0] - ratings[..., 1])
    return simulated(trials, int(np.count_nonzero(found <= alpha * (1 + ROUNDING))), DRAWN, least)


@lru_cache(maxsize=512)
def sample_size(effect: float, wanted: float, alpha: float) -> int:
    """The first number of trials that reaches the power wanted.

    Raises
    ------
    StatsError
        If a number is out of range, or over 5,000 trials would be needed.

    >>> sample_size(5.0, 0.8, 0.005)
    9
    """
    check_wanted(wanted)
    enough = t_test_power.sample_size(effect, wanted, alpha, two_sided=True) - 1
    trials = max(least_trials(alpha, two_sided=True), enough)
    while power(trials, effect, alpha).power < wanted:
        trials += 1
    return trials


def two_sided_p(differences: NDArray[np.float64]) -> NDArray[np.float64]:
    """P(|Σ ±|d|| ≥ |Σ d|) of each row of whole differences with fair signs, as `sign_flips` has it.

    Notes
    -----
    The sum's characteristic function is the product of the cosines of each size; its tail is the sum of the function
    at the roots of 1 times that of the tail itself, a geometric series.

    >>> two_sided_p(np.array([[3.0, 2, 1, 0], [1, 1, 1, 1]])).round(6).tolist()
    [0.25, 0.125]
    """
    sizes = np.abs(differences).astype(int)
    largest = max(1, int(sizes.max()))
    counts = np.stack([np.count_nonzero(sizes == size, axis=1) for size in range(1, largest + 1)], axis=1)
    seen, reach = np.abs(differences.sum(axis=1)), largest * differences.shape[1]
    number = 2 * reach + 1  # odd, and one more than the sums there can be: no cosine is 0 then
    angles = 2 * np.pi / number * np.arange(1, reach + 1)
    cosines = np.cos(np.arange(1, largest + 1)[:, None] * angles)
    tails = np.empty(len(sizes))
    rows = max(1, MOST_AT_ONCE // reach)
    for at in range(0, len(sizes), rows):
        own, from_ = counts[at : at + rows].astype(float), seen[at : at + rows, None]
        logs = own @ np.log(np.abs(cosines))
        tell = logs.max(axis=0) > NOTHING
        there, half = angles[tell], np.sin(angles[tell] / 2)
        chances = (1.0 - 2.0 * ((own @ (cosines[:, tell] < 0)) % 2)) * np.exp(logs[:, tell])
        series = (np.sin((reach + 0.5) * there) - np.sin((from_ - 0.5) * there)) / (2 * half)
        tails[at : at + rows] = (reach - from_[:, 0] + 1 + 2 * (chances * series).sum(axis=1)) / number
    p: NDArray[np.float64] = np.minimum(1.0, 2 * tails)
    return p
