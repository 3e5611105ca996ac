"""Circular triads: how consistent one listener's preferences among several setups are, and how far listeners agree.

A over B, B over C and C over A is a circle: at least one of the three was answered by guessing, or by different sides
of the sound.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from math import comb

from .errors import StatsError

MOST_ENUMERATED = 10  # 2^45 tournaments, counted in a fifth of a second; beyond it Kendall's approximation


@dataclass(frozen=True)
class CircularTriads:
    """Circles found, the most possible, the coefficient of consistency, and how likely so few are by coin tosses."""

    setups: int
    circles: int
    most: int
    consistency: float
    p_value: float


@dataclass(frozen=True)
class Agreement:
    """Kendall's coefficient of agreement: 1 when all agree; its least value; the number of listeners."""

    u: float
    least: float
    listeners: int


def circular_triads(preferences: Sequence[Sequence[int]]) -> CircularTriads:
    """The circles in one listener's preferences.

    Parameters
    ----------
    preferences
        A square table, 3 or more setups: 1 where the row's setup is preferred to the column's, otherwise 0.

    Raises
    ------
    StatsError
        If it is no such table: each pair needs one preference.

    Notes
    -----
    d = n(n−1)(2n−1)/12 − ½Σaᵢ² (aᵢ: choices of setup i); consistency 1 − 24d/(n³−n) for odd n, 1 − 24d/(n³−4n) for even
    n (Kendall and Babington Smith, Biometrika 31, 1940). p is the share of all possible tables with so few circles, by
    counting them all up to 10 setups; beyond, by Kendall's chi-square approximation.

    Examples
    --------
    Four setups, where the last three go round in a circle:

    >>> found = circular_triads([[0, 1, 1, 1], [0, 0, 1, 0], [0, 0, 0, 1], [0, 1, 0, 0]])
    >>> found.circles, found.consistency, round(found.p_value, 3)
    (1, 0.5, 0.625)

    So among four setups even coin tosses are so consistent five times in eight.
    """
    n = len(preferences)
    if n < 3:
        raise StatsError(f"circles need at least 3 setups; got {n}")
    for i in range(n):
        if len(preferences[i]) != n:
            raise StatsError(f"the table of preferences is not square: row {i + 1} has {len(preferences[i])} of {n}")
        for j in range(i):
            if {preferences[i][j], preferences[j][i]} != {0, 1}:
                raise StatsError(f"setups {j + 1} and {i + 1} need one preference between them")
    scores = [sum(row[:i]) + sum(row[i + 1 :]) for i, row in enumerate(preferences)]
    circles = circles_of(scores)
    return CircularTriads(n, circles, most(n), 1 - circles / most(n), chance_of_at_most(circles, n))


def circles_of(scores: Sequence[int]) -> int:
    """The number of circles that so many choices for each setup imply."""
    n = len(scores)
    twice = n * (n - 1) * (2 * n - 1) // 6 - sum(score * score for score in scores)
    return twice // 2


def most(setups: int) -> int:
    """The greatest number of circles among so many setups."""
    n = setups
    return (n**3 - n) // 24 if n % 2 else (n**3 - 4 * n) // 24


def chance_of_at_most(circles: int, setups: int) -> float:
    """How likely coin tosses make so few circles or fewer: exact up to 10 setups, Kendall's chi-square beyond.

    Notes
    -----
    χ² = ν + 8/(n−4)·(C(n, 3)/4 − d − ½) with ν = n(n−1)(n−2)/(n−4)² degrees of freedom. Kendall's + ½ (from memory)
    belongs to "d or more circles"; "d or fewer" takes the half step the other way. At 10 setups it is within 0.011 of
    the exact chance, and within 0.004 where that is 0.1 or less.

    Examples
    --------
    >>> round(chance_of_at_most(1, 6), 4)
    0.0513

    So one circle or none among six setups is rare where coins are tossed.
    """
    if setups <= MOST_ENUMERATED:
        counts = distribution(setups)
        return sum(counts[: circles + 1]) / sum(counts)
    from scipy.special import chdtrc

    n = setups
    freedom = n * (n - 1) * (n - 2) / (n - 4) ** 2
    value = freedom + 8 / (n - 4) * (comb(n, 3) / 4 - circles - 0.5)
    return float(chdtrc(freedom, max(value, 0.0)))


@lru_cache(maxsize=8)
def distribution(setups: int) -> tuple[int, ...]:
    """How many of all 2^(n(n−1)/2) tables have 0, 1, 2, … circles.

    Setup by setup: those left are told apart only by how often they were chosen so far, so that their sorted choices,
    with the sum of squares of those done, stand for very many tables.
    """
    reached: dict[tuple[int, ...], Counter[int]] = {(0,) * setups: Counter({0: 1})}
    for others in range(setups - 1, -1, -1):
        grown: dict[tuple[int, ...], Counter[int]] = {}
        for (own, *rest), squares in reached.items():
            groups = sorted(Counter(rest).items())
            for chosen in product(*(range(size + 1) for _, size in groups)):  # of each group, over this setup
                left: list[int] = []
                ways = 1
                for (score, size), over in zip(groups, chosen, strict=True):
                    left += [score] * (size - over) + [score + 1] * over
                    ways *= comb(size, over)
                score = own + others - sum(chosen)
                cell = grown.setdefault(tuple(sorted(left)), Counter())
                for total, tables in squares.items():
                    cell[total + score * score] += tables * ways
        reached = grown
    counts = [0] * (most(setups) + 1)
    for total, tables in reached[()].items():
        counts[(setups * (setups - 1) * (2 * setups - 1) // 6 - total) // 2] += tables
    return tuple(counts)


def agreement(counts: Sequence[Sequence[int]]) -> Agreement:
    """How far listeners agree in their preferences.

    Parameters
    ----------
    counts
        A square table: how many listeners prefer the row's setup to the column's. Each pair needs the same number.

    Raises
    ------
    StatsError
        If the table is not square, a count is negative, or pairs were judged by different numbers of listeners or by
        fewer than two.

    Notes
    -----
    u = 2Σ C(γᵢⱼ, 2) / (C(m, 2)·C(n, 2)) − 1 over ordered pairs; least −1/(m−1) for even m, −1/m for odd m (Kendall and
    Babington Smith, 1940).

    Examples
    --------
    >>> agreement([[0, 4, 4], [0, 0, 4], [0, 0, 0]]).u
    1.0

    So four listeners agree in every pair.
    """
    n = len(counts)
    if any(len(row) != n or min(row) < 0 for row in counts):
        raise StatsError("the table of counts must be square, with counts of 0 or more")
    judged = {counts[i][j] + counts[j][i] for i in range(n) for j in range(i)}
    if len(judged) != 1 or min(judged) < 2:
        raise StatsError("agreement needs at least two listeners, and the same number for every pair")
    m = judged.pop()
    agreeing = sum(comb(counts[i][j], 2) for i in range(n) for j in range(n) if i != j)
    u = 2 * agreeing / (comb(m, 2) * comb(n, 2)) - 1
    return Agreement(u, -1 / (m - 1) if m % 2 == 0 else -1 / m, m)
