"""Whether ticks or ratings differ between setups, by exchanging the setups' labels within blocks. Pure.

A block is what was drawn together: one listener with one track, or one pair. Whoever cannot tell the setups apart gives
some answers; which of them stand under which setup was decided by a fair draw within the block. Nothing is assumed of
the answers' distribution, nor that listeners or tracks are alike (Fisher, The Design of Experiments, 1935; Pitman,
Biometrika 29, 1938; both from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .errors import StatsError
from .estimates import PValue

DRAWS = 10_000
MOST_STEPS = 500_000  # sums gone through for the exact p, half a second's worth; beyond, draws
MOST_ARRANGED = 20_000  # the same within one block
MOST_AT_ONCE = 4_000_000  # answers exchanged at once, for memory's sake
ROUNDING = 1e-9  # of the statistic: two ways to the same sum count as equal


@dataclass(frozen=True)
class LabelTest:
    """What setups got on average, and how likely exchanged labels set them so far apart.

    Attributes
    ----------
    means
        Each setup's mean answer, every presentation counted alike.
    blocks
        How many blocks have answers that differ and labels to exchange; the others say nothing.
    statistic
        The sum of squares between setups, within blocks.
    p
        The p-value: exact, or by draws.
    """

    means: tuple[float, ...]
    blocks: int
    statistic: float
    p: PValue


def permutation_test(
    blocks: Sequence[Sequence[Sequence[float]]], rng: np.random.Generator, draws: int = DRAWS
) -> LabelTest:
    """The p that setups are set so far apart by chance alone; two-sided, for two setups or more at once.

    Parameters
    ----------
    blocks
        For each block, for each setup (the same order everywhere), the answers: 0 or 1 for a tick, or ratings. A setup
        may have several in a block (repetitions), or none.
    rng
        For the exchanges; where all of them can be gone through, it is not used.

    Raises
    ------
    StatsError
        If there are no blocks, fewer than two setups, a setup without any answer, an answer that is no number, or no
        draws.

    Notes
    -----
    With e the answer less its block's mean: Σ over setups (Σ e)²/n, n being the setup's number of answers. For two
    setups it orders the exchanges as |difference of the means within blocks| does; for one answer a setup and block as
    Cochran's Q and the F of a two-way analysis do. Exact p by going through all distinct exchanges, block after block,
    equal sums laid together; otherwise p = (b + 1)/(draws + 1), b draws being at least as far apart (Phipson and Smyth,
    Stat. Appl. Genet. Mol. Biol. 9, 2010; from memory).

    Assumed: within a block the order of the setups was drawn fairly, and answers do not hang on those before.

    Examples
    --------
    Three tracks, twice each, of setups A and B; A got the tick 6 of 6 times and B once:

    >>> track = [[1, 1], [0, 0]]
    >>> found = permutation_test([track, track, [[1, 1], [1, 0]]], np.random.default_rng(1))
    >>> found.means, found.p.draws, round(found.p.value, 4)
    ((1.0, 0.1666...), None, 0.0278)

    So of the 144 ways to exchange the labels four go so far to either side: fewer than 3 in 100.
    """
    if draws < 1:
        raise StatsError(f"the test needs at least one draw; got {draws!r}")
    answers, sizes = _answers(blocks)
    setups = sizes.shape[1]
    numbers = sizes.sum(axis=0)
    if not numbers.all():
        raise StatsError(f"setup {int(np.argmin(numbers)) + 1} has no answer; leave it out")
    sums = np.array([sum(float(sum(block[setup])) for block in blocks) for setup in range(setups)])
    telling = [
        place for place, values in enumerate(answers) if np.ptp(values) > 0 and np.count_nonzero(sizes[place]) > 1
    ]
    left = [answers[place] for place in telling], sizes[telling]
    seen_sums, expected = np.zeros(setups), np.zeros(setups)
    for place in telling:
        seen_sums += [float(sum(setup)) for setup in blocks[place]]
        expected += answers[place].mean() * sizes[place]
    seen = float((((seen_sums - expected) ** 2) / numbers).sum())
    p = _exact(*left, expected, numbers, seen) or _drawn(*left, expected, numbers, seen, rng, draws)
    return LabelTest(tuple((sums / numbers).tolist()), len(telling), seen, p)


def _answers(blocks: Sequence[Sequence[Sequence[float]]]) -> tuple[list[NDArray[np.float64]], NDArray[np.int64]]:
    """Each block's answers in the order of the setups, and how many each setup has; shape (blocks, setups)."""
    widths = {len(block) for block in blocks}
    if len(widths) != 1 or min(widths) < 2:
        raise StatsError("the test needs at least one block, and the same two or more setups in each")
    answers = [np.array([value for setup in block for value in setup], float) for block in blocks]
    if not all(len(values) for values in answers):
        raise StatsError("a block has no answers; leave it out")
    if not all(np.isfinite(values).all() for values in answers):
        raise StatsError("every answer must be a number")
    return answers, np.array([[len(setup) for setup in block] for block in blocks])


def _exact(
    answers: list[NDArray[np.float64]],
    sizes: NDArray[np.int64],
    expected: NDArray[np.float64],
    numbers: NDArray[np.int64],
    seen: float,
) -> PValue | None:
    """By all exchanges, or None where they are too many."""
    sums, chances, steps = np.zeros((1, len(numbers))), np.ones(1), 0
    for values, size in zip(answers, sizes, strict=True):
        block = _arrangements(values, size)
        steps += len(sums) * len(block[0]) if block else MOST_STEPS
        if block is None or steps > MOST_STEPS:
            return None
        arranged, weights = block
        further = (sums[:, None] + arranged).reshape(-1, len(numbers))
        sums, place = np.unique(further.round(9), axis=0, return_inverse=True)
        chances = np.bincount(place.ravel(), np.outer(chances, weights).ravel()).astype(float)
    reached = (((sums - expected) ** 2) / numbers).sum(axis=1) >= seen * (1 - ROUNDING) - ROUNDING**2
    return PValue(float(min(1.0, chances[reached].sum())))


def _arrangements(
    values: NDArray[np.float64], size: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Every distinct vector of the setups' sums in one block, and its probability; None where they are too many."""
    states: dict[tuple[tuple[int, ...], tuple[float, ...]], int] = {(tuple(size.tolist()), (0.0,) * len(size)): 1}
    for value in values.tolist():  # each answer in turn goes to one of the places that are left
        further: dict[tuple[tuple[int, ...], tuple[float, ...]], int] = {}
        for (free, sums), ways in states.items():
            for setup, places in enumerate(free):
                if places:
                    left = (*free[:setup], places - 1, *free[setup + 1 :])
                    moved = (*sums[:setup], round(sums[setup] + value, 9), *sums[setup + 1 :])
                    further[left, moved] = further.get((left, moved), 0) + ways
        states = further
        if len(states) > MOST_ARRANGED:
            return None
    arranged = np.array([sums for _, sums in states])
    weights = np.array(list(states.values()), float)
    return arranged, weights / weights.sum()


def _drawn(
    answers: list[NDArray[np.float64]],
    sizes: NDArray[np.int64],
    expected: NDArray[np.float64],
    numbers: NDArray[np.int64],
    seen: float,
    rng: np.random.Generator,
    draws: int,
) -> PValue:
    reached, left, total = 0, draws, sum(len(values) for values in answers)
    while left:
        now = min(left, max(1, MOST_AT_ONCE // total))
        sums = np.zeros((now, len(numbers)))
        for values, size in zip(answers, sizes, strict=True):
            shuffled = rng.permuted(np.broadcast_to(values, (now, len(values))), axis=1)
            owner = np.repeat(np.arange(len(size)), size)
            sums += shuffled @ (owner[:, None] == np.arange(len(size)))
        apart = (((sums - expected) ** 2) / numbers).sum(axis=1)
        reached += int(np.count_nonzero(apart >= seen * (1 - ROUNDING) - ROUNDING**2))
        left -= now
    return PValue((reached + 1) / (draws + 1), draws)
