"""Tests of ranks: Friedman's for complete blocks, Durbin's for incomplete ones, and Kendall's concordance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isinf

import numpy as np
from numpy.typing import NDArray

from .errors import StatsError


@dataclass(frozen=True)
class RankTest:
    """A chi-square statistic of rank sums, its degrees of freedom and p-value; ties are allowed for.

    `w` is Kendall's coefficient of concordance (0 to 1), where blocks are complete.
    """

    rank_sums: tuple[float, ...]
    chi_square: float
    freedom: int
    p_value: float
    w: float | None = None


@dataclass(frozen=True)
class Durbin:
    """Durbin's statistics for balanced incomplete blocks: the chi-square form, and the sharper F form."""

    rank_sums: tuple[float, ...]
    chi_square: float
    freedom: int
    p_value: float
    f: float
    f_freedom: tuple[int, int]
    f_p_value: float


def friedman(scores: Sequence[Sequence[float]]) -> RankTest:
    """Whether some treatments are ranked higher than others by the blocks (listeners).

    Parameters
    ----------
    scores
        A row for each block, shape (blocks, treatments), at least 2 by 2.

    Raises
    ------
    StatsError
        If rows differ in length, something is not a number, or every row is tied throughout.

    Notes
    -----
    Average ranks in each block; the chi-square form corrected for ties (Conover 1999), k − 1 degrees of freedom.
    W = χ²/(b(k−1)).

    Examples
    --------
    >>> found = friedman([[1, 2, 3], [1, 2, 3], [1, 3, 2], [1, 2, 3]])
    >>> found.rank_sums, found.chi_square, found.freedom
    ((4.0, 9.0, 11.0), 6.5, 2)

    So four listeners order the three nearly alike (p .039).
    """
    ranks = _ranks(_table(scores))
    blocks, treatments = ranks.shape
    sums = ranks.sum(axis=0)
    spread = float((ranks**2).sum()) - blocks * treatments * (treatments + 1) ** 2 / 4
    if spread <= 0:
        raise StatsError("every row is tied throughout; there is nothing to rank")
    chi_square = (treatments - 1) * float(((sums - blocks * (treatments + 1) / 2) ** 2).sum()) / spread
    return RankTest(
        tuple(float(value) for value in sums),
        chi_square,
        treatments - 1,
        _chi_square_tail(chi_square, treatments - 1),
        chi_square / (blocks * (treatments - 1)),
    )


def kendall_w(rankings: Sequence[Sequence[float]]) -> RankTest:
    """How far judges agree in a ranking: Friedman's test, read as concordance (w from 0 to 1).

    Parameters
    ----------
    rankings
        A row for each judge, as for `friedman`, which raises what this raises.

    Examples
    --------
    >>> round(kendall_w([[1, 6, 3, 2, 5, 4], [1, 5, 6, 4, 2, 3], [6, 3, 2, 5, 4, 1]]).w, 3)
    0.162

    So these three judges hardly agree.
    """
    return friedman(rankings)


def durbin(blocks: Sequence[Sequence[int]], ranks: Sequence[Sequence[float]]) -> Durbin:
    """Durbin's test for a balanced incomplete block design.

    Parameters
    ----------
    blocks
        The treatments (whole numbers from 0) that each block holds: all of one size k, each treatment in r blocks, each
        two treatments together in the same number of blocks.
    ranks
        Their scores or ranks in the same order.

    Raises
    ------
    StatsError
        If blocks and ranks do not fit, or the design is not balanced.

    Notes
    -----
    T1 = (t−1)Σ(Rⱼ − r(k+1)/2)² / (A − C) with A the sum of squared ranks and C = bk(k+1)²/4; T2 = (T1/(t−1)) /
    ((b(k−1) − T1)/(bk − b − t + 1)) (Conover 1999, p. 388 ff.).

    Examples
    --------
    Six listeners order two setups each, every two of the four once:

    >>> pairs = [[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]]
    >>> found = durbin(pairs, [[2, 1], [2, 1], [2, 1], [2, 1], [2, 1], [2, 1]])
    >>> found.rank_sums, round(found.chi_square, 6), found.freedom, round(found.p_value, 4)
    ((6.0, 5.0, 4.0, 3.0), 5.0, 3, 0.1718)

    So six answers in perfect order are still too few to show a preference.
    """
    sizes = {len(block) for block in blocks}
    if len(sizes) != 1 or [len(row) for row in ranks] != [len(block) for block in blocks]:
        raise StatsError("every block needs the same number of treatments, and one rank for each of them")
    k, b = sizes.pop(), len(blocks)
    t = 1 + max((max(block, default=0) for block in blocks), default=0)
    if any(min(block, default=0) < 0 or len(set(block)) < k for block in blocks):
        raise StatsError("treatments are whole numbers from 0, and a block holds each of them once at most")
    found = _ranks(_table(ranks))
    sums, times, together = np.zeros(t), np.zeros(t, int), np.zeros((t, t), int)
    for block, row in zip(blocks, found, strict=True):
        for treatment, rank in zip(block, row, strict=True):
            sums[treatment] += rank
            times[treatment] += 1
        together[np.ix_(block, block)] += 1
    if len(set(times.tolist())) != 1:
        raise StatsError("the design is not balanced: every treatment must stand in the same number of blocks")
    if len(set(together[~np.eye(t, dtype=bool)].tolist())) != 1:
        raise StatsError("the design is not balanced: every two treatments must meet in the same number of blocks")
    r = int(times[0])
    spread = float((found**2).sum()) - b * k * (k + 1) ** 2 / 4
    if spread <= 0:
        raise StatsError("every block is tied throughout; there is nothing to rank")
    t1 = (t - 1) * float(((sums - r * (k + 1) / 2) ** 2).sum()) / spread
    freedom = (t - 1, b * k - b - t + 1)
    left = b * (k - 1) - t1
    f = float("inf") if left <= 1e-12 else (t1 / (t - 1)) / (left / freedom[1]) if freedom[1] > 0 else float("nan")
    from scipy.special import fdtrc

    return Durbin(
        tuple(float(value) for value in sums),
        t1,
        t - 1,
        _chi_square_tail(t1, t - 1),
        f,
        freedom,
        (0.0 if isinf(f) else float(fdtrc(*freedom, f))) if freedom[1] > 0 else float("nan"),
    )


def _table(scores: Sequence[Sequence[float]]) -> NDArray[np.float64]:
    widths = {len(row) for row in scores}
    if len(widths) != 1 or len(scores) < 2 or min(widths) < 2:
        raise StatsError("ranks need at least two rows of equal length, with at least two values each")
    table = np.asarray(scores, float)
    if not np.isfinite(table).all():
        raise StatsError("every value to be ranked must be a number")
    return table


def _ranks(table: NDArray[np.float64]) -> NDArray[np.float64]:
    """Ranks within each row, from 1; ties share the mean of theirs."""
    below = (table[:, :, None] > table[:, None, :]).sum(axis=2)
    alike = (table[:, :, None] == table[:, None, :]).sum(axis=2)
    return np.asarray(below + (alike + 1) / 2)


def _chi_square_tail(value: float, freedom: int) -> float:
    from scipy.special import chdtrc

    return float(chdtrc(freedom, max(value, 0.0)))
