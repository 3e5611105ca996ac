"""The permutation test of the difference of medians (ITU-R BS.1534-3, Attachment 3), for plans sealed with it.

New plans test the sum of the differences (`multi_stimulus.permutation_test`): an exchange of fewer than half of the
trials often leaves both medians, so that this test misses what anyone can see.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .errors import StatsError
from .estimates import PValue

MOST_ENUMERATED = 12  # pairs; 4096 exchanges
DRAWS = 10_000
MOST_AT_ONCE = 4_000_000  # grades exchanged at once, for memory's sake


def permutation_test(
    first: Sequence[float], second: Sequence[float], rng: np.random.Generator, draws: int = DRAWS
) -> PValue:
    """The two-sided p that two stimuli, graded side by side, have the same median by chance alone.

    Parameters
    ----------
    first, second
        Grades of the two in the same trials.
    rng
        For the exchanges; up to 12 trials all of them are gone through instead.

    Raises
    ------
    StatsError
        If there are no grades, unequal numbers of them, or one is not a number; or if there are no draws.

    Notes
    -----
    p = (b + 1)/(draws + 1), b draws being at least as far apart, or exact.

    Examples
    --------
    >>> permutation_test([100] * 8, [60] * 8, np.random.default_rng(1))
    PValue(value=0.7265625, draws=None)

    So what is plain to the eye is not found.
    """
    one, two = np.asarray(first, float), np.asarray(second, float)
    if draws < 1:
        raise StatsError(f"the test needs at least one draw; got {draws!r}")
    if len(one) != len(two) or not len(one):
        raise StatsError("the two stimuli need the same number of grades, and at least one")
    if not (np.isfinite(one).all() and np.isfinite(two).all()):
        raise StatsError("every grade must be a number")
    seen = abs(float(np.median(one) - np.median(two)))
    pairs = len(one)
    if pairs <= MOST_ENUMERATED:
        turned = (np.arange(2**pairs) >> np.arange(pairs)[:, None]) & 1 == 1
        return PValue(float(np.mean(medians_apart(one, two, turned) >= seen - 1e-9)))
    reached, left = 0, draws
    while left:
        now = min(left, max(1, MOST_AT_ONCE // pairs))
        turned = rng.random((now, pairs)).T < 0.5
        reached += int(np.count_nonzero(medians_apart(one, two, turned) >= seen - 1e-9))
        left -= now
    return PValue((reached + 1) / (draws + 1), draws)


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
