"""Leaning to a side: whether one of two sides, or one of several places, was chosen too often."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from math import comb
from numbers import Integral
from typing import TYPE_CHECKING, Any

from .binomial import binomial_test
from .errors import StatsError

if TYPE_CHECKING:
    from numpy.random import Generator

MOST_SPLITS = 50_000  # ways to split the trials over the places; beyond, the p-value is drawn


@dataclass(frozen=True)
class SideBias:
    """How often the first side was chosen, and the exact two-sided p-value against the expected share."""

    first: int
    trials: int
    share: float
    p_value: float

    def to_document(self) -> dict[str, Any]:
        """The bias as the command line prints it."""
        return asdict(self)


@dataclass(frozen=True)
class SideChoice:
    """How often each place was chosen, Pearson's statistic against equal shares, and its p-value."""

    counts: tuple[int, ...]
    x2: float
    p_value: float
    exact: bool

    def to_document(self) -> dict[str, Any]:
        """The choices as the command line prints them."""
        return asdict(self)


def side_bias(first: int, trials: int, share: float = 0.5) -> SideBias:
    """Whether one of two sides was chosen too often: the exact two-sided test against `share`.

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    >>> round(side_bias(15, 20).p_value, 3)
    0.041

    So 15 answers for A among 20 lean to A more than most fair sessions do.
    """
    return SideBias(int(first), int(trials), float(share), binomial_test(first, trials, share, "two-sided").p_value)


def side_choice(counts: Sequence[int], rng: Generator, draws: int = 10_000) -> SideChoice:
    """Whether one of several places was chosen too often: Pearson's statistic with its exact or drawn p-value.

    Parameters
    ----------
    counts
        How often each place was chosen, two places or more.
    rng, draws
        For the p-value (b + 1)/(draws + 1), b draws being at least as uneven; used only where the ways to split the
        trials over the places are too many (over 50 000) to be counted.

    Raises
    ------
    StatsError
        If there are fewer than two places, no answers, or a count is not a whole number.

    Examples
    --------
    >>> import numpy as np
    >>> found = side_choice([9, 2, 1], np.random.default_rng(1))
    >>> found.x2, round(found.p_value, 4), found.exact
    (9.5, 0.0116, True)

    So the first place was chosen far too often.
    """
    for count in counts:
        if isinstance(count, bool) or not isinstance(count, Integral) or count < 0:
            raise StatsError(f"a count must be a whole number, 0 or more; got {count!r}")
    places, n = len(counts), sum(int(count) for count in counts)
    if places < 2 or n < 1:
        raise StatsError(f"choices need two places or more and an answer; got {places} places and {n} answers")
    squares = sum(int(count) ** 2 for count in counts)
    exact = comb(n + places - 1, places - 1) <= MOST_SPLITS
    if exact:
        p_value = sum(ways for ways, sum_of in _splits(n, places) if sum_of >= squares) / places**n
    else:
        drawn = rng.multinomial(n, [1 / places] * places, size=draws)
        p_value = (int(((drawn**2).sum(axis=1) >= squares).sum()) + 1) / (draws + 1)
    x2 = squares * places / n - n  # Σ(c − n/k)²/(n/k)
    return SideChoice(tuple(int(count) for count in counts), x2, p_value, exact)


def _splits(trials: int, places: int) -> Iterator[tuple[int, int]]:
    """Every split of the trials over the places: the orders that give it, and the sum of squared counts."""
    if places == 1:
        yield 1, trials * trials
        return
    for here in range(trials + 1):
        for ways, squares in _splits(trials - here, places - 1):
            yield comb(trials, here) * ways, squares + here * here
