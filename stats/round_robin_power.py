"""Power and sample size of a round robin's test that all setups are preferred equally often."""

from __future__ import annotations

from functools import lru_cache
from math import comb, factorial

import numpy as np

from .errors import StatsError
from .estimates import PowerEstimate, simulated
from .round_robin import DRAWS, Outcomes, drawn_unevenness, favourite, outcomes
from .validation import check_alpha, check_wanted

SEED = 1  # of what is drawn; stated here so that anyone gets the same number
MOST_SEARCHED = 20_000  # rounds


def least_rounds(setups: int, alpha: float) -> int:
    """The fewest rounds that can reach alpha.

    Of all outcomes the k! in which the setups stand in one order, and each wins every comparison with those below it,
    are the most uneven: together they have the chance k!/2^(rounds × pairs).

    >>> least_rounds(3, 0.05), least_rounds(4, 0.05)
    (3, 2)
    """
    check_alpha(alpha)
    rounds = 1
    while factorial(setups) > alpha * (1 + 1e-12) * 2 ** (rounds * comb(setups, 2)):
        rounds += 1
    return rounds


@lru_cache(maxsize=512)
def power(setups: int, rounds: int, proportion: float, alpha: float = 0.05) -> PowerEstimate:
    """The power to find that one setup is preferred to each of the others in `proportion` of the comparisons.

    The others are taken as equal among themselves.

    Parameters
    ----------
    rounds
        Comparisons of each pair, of all listeners together.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    Exact where all outcomes can be gone through; otherwise of 20,000 draws of a fixed seed.

    Examples
    --------
    >>> found = power(3, 8, 0.75)
    >>> round(found.power, 3), found.by, found.trials
    (0.344, 'exact', 24)
    """
    check_alpha(alpha)
    numbers, shares = favourite(setups, rounds, proportion)
    trials = rounds * len(numbers)
    least = least_rounds(setups, alpha)
    if rounds < least:
        return PowerEstimate(trials, 0.0, None, least * len(numbers))
    even = (0.5,) * len(numbers)
    null, alternative = outcomes(setups, numbers, even), outcomes(setups, numbers, shares)
    if null is not None and alternative is not None:
        found = float(alternative.chances[alternative.uneven >= _critical(null, alpha) - 1e-9].sum())
        return PowerEstimate(trials, min(1.0, found), None, least * len(numbers))
    rng = np.random.Generator(np.random.PCG64(SEED))
    by_chance = np.sort(drawn_unevenness(setups, numbers, even, rng, DRAWS))
    seen = drawn_unevenness(setups, numbers, shares, rng, DRAWS)
    # p = (b + 1)/(draws + 1) of each outcome, against the same draws
    as_far = len(by_chance) - np.searchsorted(by_chance, seen - 1e-9, side="left")
    reached = int(np.count_nonzero((as_far + 1) / (DRAWS + 1) <= alpha))
    return simulated(trials, reached, DRAWS, least * len(numbers))


@lru_cache(maxsize=512)
def sample_size(setups: int, proportion: float, wanted: float = 0.8, alpha: float = 0.05) -> int:
    """Trials (rounds times pairs, of all listeners together) needed for the power wanted.

    Raises
    ------
    StatsError
        If a number is out of range, or over 20,000 rounds would be needed.

    Notes
    -----
    By halving, as if power always grew with rounds; it wavers a little, since counts are whole.

    >>> sample_size(3, 0.75)
    57
    """
    check_wanted(wanted)
    pairs = comb(setups, 2)
    low, high = least_rounds(setups, alpha) - 1, max(8, least_rounds(setups, alpha))
    while power(setups, high, proportion, alpha).power < wanted:
        low, high = high, 2 * high
        if low >= MOST_SEARCHED:
            raise StatsError(f"more than {MOST_SEARCHED} rounds would be needed to find a proportion of {proportion!r}")
    while high - low > 1:
        middle = (low + high) // 2
        if power(setups, middle, proportion, alpha).power >= wanted:
            high = middle
        else:
            low = middle
    return high * pairs


def _critical(null: Outcomes, alpha: float) -> float:
    """The least unevenness whose p reaches alpha; infinite where none does."""
    order = np.argsort(-null.uneven, kind="stable")
    uneven, tail = null.uneven[order], np.cumsum(null.chances[order])
    # p of a value is the tail up to the last outcome that is as uneven
    last = np.append(np.abs(np.diff(uneven)) > 1e-9, True)
    reaching = uneven[last][tail[last] <= alpha * (1 + 1e-12)]
    return float(reaching.min()) if len(reaching) else float("inf")
