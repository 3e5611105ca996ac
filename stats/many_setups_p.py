"""How likely labels exchanged within trials set setups so far apart, for many sets of answers at once. Pure.

The test is that of `permuted_labels` where each setup is heard once in each trial; a power is the share of simulated
sets that it finds, and one set after the other would take minutes.
"""

from __future__ import annotations

from itertools import permutations
from math import ceil, factorial

import numpy as np
from numpy.typing import NDArray

MOST_ENUMERATED = 20_000  # exchanges gone through, all of them; beyond, draws
BEYOND_ALPHA = 15  # draws as far apart as a p of alpha has, so that p near alpha is right to a quarter of itself
SHARING = 100  # sets that share their draws; the next ones have others, so that no draw decides on a power
AT_ONCE = 2_000  # exchanges, for memory's sake
PLAIN = 4  # times alpha that p by moments may be off: what lies further from alpha needs no draws
MOMENTS_FROM = 10  # trials; with fewer, moments say too little for that


def p_values(answers: NDArray[np.float64], alpha: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """The p of each set of answers, as well as it takes to tell whether it reaches alpha.

    Parameters
    ----------
    answers
        Whole numbers, shape (sets, trials, setups).
    rng
        For draws, where exchanges are too many to go through.

    Notes
    -----
    By going through all exchanges; where they are too many, by draws as `permuted_labels` counts them; of 10 trials
    and more, far from alpha, by moments.

    Examples
    --------
    >>> plain = np.array([[[1.0, 0, 0]] * 3, [[1.0, 0, 0], [0, 1, 0], [0, 0, 1]]])
    >>> p_values(plain, 0.05, np.random.default_rng(1)).round(4).tolist()
    [0.1111, 1.0]

    So three ticks of one setup alone, of three setups, are one case in nine.
    """
    trials, setups = answers.shape[1:]
    ways = factorial(setups) ** (trials - 1)
    if ways <= MOST_ENUMERATED:
        rest = np.indices((factorial(setups),) * (trials - 1)).reshape(trials - 1, -1).T
        exact: NDArray[np.float64] = (
            _reached(answers, np.concatenate([np.zeros((len(rest), 1), int), rest], axis=1)) / ways
        )
        return exact
    p = by_moments(answers)
    near = np.flatnonzero((trials < MOMENTS_FROM) | ((p > alpha / PLAIN) & (p < alpha * PLAIN)))
    number = ceil(BEYOND_ALPHA / alpha)
    for at in range(0, len(near), SHARING):
        own = answers[near[at : at + SHARING]]
        reached = np.ones(len(own), int)  # what was seen is one of them
        for drawn in range(1, number, AT_ONCE):
            now = min(AT_ONCE, number - drawn)
            reached += _reached(own, rng.integers(0, factorial(setups), (now, trials)))
        p[near[at : at + SHARING]] = reached / number
    return p


def by_moments(answers: NDArray[np.float64]) -> NDArray[np.float64]:
    """The p of each set by the beta distribution with the mean and variance that all exchanges have.

    Notes
    -----
    With e the answers less their trial's mean and A = Σ e² of a trial, the sum of squares between setups has the mean
    Σ A, the variance 2 ((Σ A)² − Σ A²)/(setups − 1), and is (Σ √A)² at most.
    """
    from scipy.special import betaincc

    apart = answers - answers.mean(axis=2, keepdims=True)
    within = (apart**2).sum(axis=2)
    most = np.sqrt(within).sum(axis=1) ** 2
    spread = 2 * (within.sum(axis=1) ** 2 - (within**2).sum(axis=1)) / (answers.shape[2] - 1)
    telling = spread > 1e-9
    most, spread = np.where(telling, most, 1.0), np.where(telling, spread, 0.05)
    mean = np.where(telling, within.sum(axis=1) / most, 0.5)
    shape = mean * (1 - mean) / (spread / most**2) - 1
    reach = np.minimum(1.0, (apart.sum(axis=1) ** 2).sum(axis=1) / most)
    p: NDArray[np.float64] = np.where(telling, betaincc(mean * shape, (1 - mean) * shape, reach), 1.0)
    return p


def _reached(answers: NDArray[np.float64], chosen: NDArray[np.int64]) -> NDArray[np.int64]:
    """How many exchanges set each set's setups at least as far apart as they are; `chosen` is the order in each trial.

    Products of matrices do all exchanges of many sets; whole numbers this small are exact in single precision.
    """
    sets, trials, setups = answers.shape
    orders = np.array(list(permutations(range(setups))))
    goes = (orders[:, None, :-1] == np.arange(setups)[:, None]).astype(np.float32)  # all but the last follow
    exchanges = goes[chosen].transpose(1, 2, 3, 0).reshape(trials * setups, -1)
    middle = np.rint(answers.sum(axis=(1, 2)) / setups)
    left = (answers.sum(axis=(1, 2)) - setups * middle).astype(np.float32)
    seen = ((answers.sum(axis=1) - middle[:, None]) ** 2).sum(axis=1)
    found = np.empty(sets, int)
    for at in range(0, sets, SHARING):
        own = slice(at, at + SHARING)
        rows = answers[own].reshape(-1, trials * setups).astype(np.float32)
        sums = (rows @ exchanges).reshape(len(rows), setups - 1, -1) - middle[own, None, None].astype(np.float32)
        apart = (sums**2).sum(axis=1) + (left[own, None] - sums.sum(axis=1)) ** 2
        found[own] = np.count_nonzero(apart >= seen[own, None] - 0.5, axis=1)
    return found
