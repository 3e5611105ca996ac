"""Cochran's Q: whether a word was ticked of some setups more often than of others, heard side by side. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .errors import StatsError
from .estimates import PValue
from .permuted_labels import DRAWS, permutation_test


@dataclass(frozen=True)
class CochranQ:
    """Cochran's statistic of ticks in complete blocks.

    Attributes
    ----------
    ticks
        Each setup's number of ticks.
    blocks
        How many blocks are neither ticked throughout nor empty; the others say nothing.
    q, freedom, p_value
        The statistic, its degrees of freedom, and the chi-square's tail, which is right for many blocks only.
    permutation
        The p-value of exchanged labels within blocks: exact, or by draws. This one holds for few blocks too.
    """

    ticks: tuple[int, ...]
    blocks: int
    q: float
    freedom: int
    p_value: float
    permutation: PValue


def cochran_q(ticks: Sequence[Sequence[int]], rng: np.random.Generator, draws: int = DRAWS) -> CochranQ:
    """Whether the setups' tick rates differ at all, by blocks in which each setup was heard once.

    Parameters
    ----------
    ticks
        A row for each block (a listener with a track, say), a column for each setup: 1 ticked, 0 not.
    rng
        For the exchanges of `permuted_labels`; where all of them can be gone through, it is not used.

    Raises
    ------
    StatsError
        If rows differ in length, are fewer than two wide, hold anything but 0 and 1, or none of them tells setups
        apart.

    Notes
    -----
    With k setups, T the setups' and R the blocks' totals: Q = (k − 1)(kΣT² − (ΣT)²)/(kΣR − ΣR²), k − 1 degrees of
    freedom (Cochran, Biometrika 37, 1950). For two setups it is McNemar's statistic without continuity correction. Rows
    of all 0 or all 1 leave it as it is.

    Assumed by the permutation: the order within a block was drawn fairly. By the chi-square: many blocks as well (a
    usual rule asks for 24 ticks' places in the blocks that tell, from memory).

    Examples
    --------
    Conover's twelve games forecast by three judges (Practical Nonparametric Statistics): Q 2.8, p .2466.

    >>> games = "111 111 010 110 000 111 111 110 001 010 111 111"
    >>> found = cochran_q([[int(tick) for tick in game] for game in games.split()], np.random.default_rng(1))
    >>> found.ticks, round(found.q, 4), found.freedom, round(found.p_value, 4)
    ((8, 10, 7), 2.8, 2, 0.2466)
    >>> found.blocks, round(found.permutation.value, 4), found.permutation.draws
    (5, 0.3951, None)

    So nothing tells these three apart; only five of the twelve rows say anything.
    """
    widths = {len(row) for row in ticks}
    if len(widths) != 1 or min(widths) < 2:
        raise StatsError("Cochran's Q needs at least one block, and the same two or more setups in each")
    if any(value not in (0, 1) for row in ticks for value in row):
        raise StatsError("a tick is 1 and no tick 0; something else was given")
    table = np.asarray(ticks, int)
    setups = table.shape[1]
    totals, rows = table.sum(axis=0), table.sum(axis=1)
    spread = int(setups * rows.sum() - (rows**2).sum())
    if not spread:
        raise StatsError("every block is ticked throughout or not at all; nothing tells the setups apart")
    q = (setups - 1) * int(setups * (totals**2).sum() - totals.sum() ** 2) / spread
    permuted = permutation_test([[[int(value)] for value in row] for row in table], rng, draws)
    from scipy.special import chdtrc

    return CochranQ(tuple(totals.tolist()), permuted.blocks, q, setups - 1, float(chdtrc(setups - 1, q)), permuted.p)
