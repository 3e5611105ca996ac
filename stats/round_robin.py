"""A round robin of preferences: whether any of several setups is preferred at all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np

from .errors import StatsError
from .estimates import PValue
from .validation import check_proportion

DRAWS = 20_000
MOST_OUTCOMES = 300_000  # gone through, where so few or fewer have to be looked at at once

Pair = tuple[int, int]


@dataclass(frozen=True)
class Outcomes:
    """Every way a round robin can go: how uneven it is, and how likely. Shapes (outcomes,) each."""

    uneven: np.ndarray
    chances: np.ndarray


def equality_test(wins: Mapping[Pair, tuple[float, int]], rng: np.random.Generator, draws: int = DRAWS) -> PValue:
    """The p that all setups are preferred equally often by chance alone.

    Parameters
    ----------
    wins
        For each pair (i, j) of setups: how often i was preferred, and how many comparisons there were. One that
        was planned and never made counts half.
    rng
        For the draws where the outcomes are too many to be gone through; then p = (b + 1)/(draws + 1), which holds its
        error rate exactly.

    Raises
    ------
    StatsError
        If a count is out of range, a pair is none, fewer than three setups are compared, or there are no draws.

    Notes
    -----
    The statistic is Σᵢ (choices of i less half of i's comparisons)². Where nothing is preferred every comparison is a
    fair coin, whatever the listener's habits: which of the two was heard first was itself a fair coin.

    Examples
    --------
    >>> wins = {(0, 1): (8, 8), (0, 2): (7, 8), (1, 2): (4, 8)}
    >>> found = equality_test(wins, np.random.default_rng(1))
    >>> round(found.value, 5), found.draws
    (0.00152, None)

    So the first setup, chosen 15 times of 16, stands out.
    """
    setups = 1 + max((max(pair) for pair in wins), default=0)
    if setups < 3:
        raise StatsError("a round robin compares at least three setups")
    if draws < 1:
        raise StatsError(f"the test needs at least one draw; got {draws!r}")
    for pair, (won, comparisons) in wins.items():
        if min(pair) < 0 or pair[0] == pair[1]:
            raise StatsError(f"a pair holds two different setups, numbered from 0; got {pair}")
        if comparisons < 0 or not 0 <= won <= comparisons:
            raise StatsError(f"setups {pair[0] + 1} and {pair[1] + 1}: {won} of {comparisons} is no count")
    lead = np.zeros(setups)
    for (i, j), (won, comparisons) in wins.items():
        lead[i] += won - comparisons / 2
        lead[j] -= won - comparisons / 2
    seen = float((lead**2).sum()) - 1e-9
    numbers = tuple((pair, comparisons) for pair, (_, comparisons) in wins.items() if comparisons)
    every = outcomes(setups, numbers, (0.5,) * len(numbers))
    if every is not None:
        return PValue(float(min(1.0, every.chances[every.uneven >= seen].sum())))
    drawn = drawn_unevenness(setups, numbers, (0.5,) * len(numbers), rng, draws)
    return PValue((int(np.count_nonzero(drawn >= seen)) + 1) / (draws + 1), draws)


def least_p(comparisons: Mapping[Pair, int]) -> float | None:
    """The p-value of the most uneven choices there are; None of so many comparisons that p would be drawn.

    Examples
    --------
    >>> least_p({(0, 1): 1, (0, 2): 1, (1, 2): 1})
    0.75

    So three comparisons of three setups show nothing, however they go: six ways in eight put all in one order.
    """
    numbers = tuple((pair, number) for pair, number in comparisons.items() if number)
    every = outcomes(1 + max(max(pair) for pair in comparisons), numbers, (0.5,) * len(numbers))
    if every is None:
        return None
    return float(min(1.0, every.chances[every.uneven >= every.uneven.max() - 1e-9].sum()))


@cache
def outcomes(setups: int, numbers: tuple[tuple[Pair, int], ...], shares: tuple[float, ...]) -> Outcomes | None:
    """All outcomes with so many comparisons of each pair; None where there are too many to go through.

    Parameters
    ----------
    shares
        With which probability the first of each pair is preferred to the second.

    Notes
    -----
    Pair by pair; ways that lead to the same choices of every setup are counted together.
    """
    from scipy.special import betaln, xlog1py, xlogy

    base = 1 + 2 * sum(comparisons for _, comparisons in numbers)
    if base**setups >= 2**62:
        return None
    places = base ** np.arange(setups, dtype=np.int64)
    at: np.ndarray = np.zeros(1, np.int64)  # twice the leads, as digits (some below 0) of one number
    chances: np.ndarray = np.ones(1)
    leads = np.zeros((1, setups), np.int64)
    for ((i, j), comparisons), share in zip(numbers, shares, strict=True):
        if len(at) * (comparisons + 1) > MOST_OUTCOMES:
            return None
        won = np.arange(comparisons + 1)
        moved = np.zeros((comparisons + 1, setups), np.int64)
        moved[:, i], moved[:, j] = 2 * won - comparisons, comparisons - 2 * won
        longer = (at[:, None] + (moved @ places)[None, :]).ravel()
        ways = -np.log(comparisons + 1) - betaln(won + 1, comparisons - won + 1)  # binomial coefficients, as logarithms
        chance = np.exp(ways + xlogy(won, share) + xlog1py(comparisons - won, -share))
        weights = (chances[:, None] * chance[None, :]).ravel()
        at, first, which = np.unique(longer, return_index=True, return_inverse=True)
        chances = np.bincount(which, weights, len(at))
        leads = leads[first // (comparisons + 1)] + moved[first % (comparisons + 1)]
    return Outcomes((leads**2).sum(axis=1) / 4, chances)


def drawn_unevenness(
    setups: int, numbers: Sequence[tuple[Pair, int]], shares: Sequence[float], rng: np.random.Generator, draws: int
) -> np.ndarray:
    """The statistic of so many outcomes drawn; shape (draws,)."""
    lead = np.zeros((draws, setups))
    for ((i, j), comparisons), share in zip(numbers, shares, strict=True):
        won = rng.binomial(comparisons, share, draws) - comparisons / 2
        lead[:, i] += won
        lead[:, j] -= won
    squares: np.ndarray = (lead**2).sum(axis=1)
    return squares


def favourite(setups: int, rounds: int, proportion: float) -> tuple[tuple[tuple[Pair, int], ...], tuple[float, ...]]:
    """All pairs with their comparisons, and the share in which the first of each is preferred if the first setup is.

    Raises
    ------
    StatsError
        If a number is out of range.
    """
    check_proportion(proportion)
    if setups < 3 or rounds < 1:
        raise StatsError(f"a round robin has 3 or more setups and 1 or more rounds; got {setups} and {rounds}")
    numbers = tuple((pair, rounds) for pair in combinations(range(setups), 2))
    return numbers, tuple(proportion if i == 0 else 0.5 for (i, _), _ in numbers)
