"""What is left over of a channel, block by block: energies, what is heard of them, and whose a fault is. Pure."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..runs import runs
from .filter_residual import Explained, Signal

BLOCK_S = 0.0025
HEARD_DB = 35.0  # what is no farther below its loud moments is heard
SMEARED_S = 0.17  # before and after a stroke what explains it may be off by as much as elsewhere under one
JOINED = 3  # blocks
STAYS = 4  # blocks: so long an offset is the same, and the slowest sound is not
BROAD = 240  # frames
IN_SOURCE = 0.1  # of a click in what explains: so much of it is there
LOW_S, LOW = 0.001, 0.9  # of the energy in means over so long: below some 180 Hz
RINGS = 0.1  # of the energy of what both have close by, at most: so faint a filter rings on
LITTLE_LEFT = 0.03  # of the energy of most blocks
Levels = NDArray[np.float64]


def tells_whose(known: Explained, rate_hz: int) -> bool:
    """Whether so little is usually left over that it can be told whose a fault is: in a room it cannot."""
    heard, left = (energies(each, round(BLOCK_S * rate_hz)) for each in (known.heard, known.left))
    sounding = heard > faintest_heard(heard)
    return bool(sounding.any() and np.median(left[sounding] / heard[sounding]) < LITTLE_LEFT)


def in_source(foretold: Signal, source: Signal, start: int, block: int, broad: int = BROAD) -> bool:
    """Whether what is foretold here is in the recording it is foretold from, and not only smeared to here."""
    about = slice(max(start - min(block, broad), 0), start + block + min(block, broad))
    scale = float(np.sum(np.square(foretold))) / max(float(np.sum(np.square(source))), 1e-20)
    return scale * float(np.sum(np.square(source[about]))) > IN_SOURCE * float(np.sum(np.square(foretold[about])))


def only_rings(known: Explained, rate_hz: int, start: int, end: int) -> bool:
    """Whether what is left over between two frames is how a filter of low tones rings where a louder one breaks off.

    It is low, and both recordings hold a sound ten times as strong close by. Such a filter, learnt from tones that are
    held, is little known at their abrupt ends.
    """
    from scipy.ndimage import uniform_filter1d

    left = known.left[start:end]
    block = max(round(LOW_S * rate_hz), 1)
    whole = left[: left.size // block * block].reshape(-1, block).astype(np.float64)
    energy = float(np.square(whole).sum())
    if energy <= 0 or block * float(np.square(whole.mean(axis=1)).sum()) < LOW * energy:
        return False
    smeared, long = round(SMEARED_S * rate_hz), round(BLOCK_S * rate_hz)
    about = slice(max(start - smeared, 0), end + smeared)
    shared = np.minimum(energies(known.heard[about], long), energies(known.foretold[about], long))
    most = energies(left, long) if left.size >= long else np.array([energy])
    smooth = uniform_filter1d(shared, STAYS, mode="nearest")
    return float(most.max()) < RINGS * float(smooth.max(initial=0.0))


def loud(levels: Levels) -> float:
    """The energy of the loud blocks; 0 of none."""
    return float(np.quantile(levels, 0.9)) if levels.size else 0.0


def faintest_heard(levels: Levels) -> float:
    """The energy from which on a block is heard beside the loud ones."""
    return 10 ** (-HEARD_DB / 10) * loud(levels)


def energies(samples: Signal, block: int) -> Levels:
    """The energy of each whole block of so many frames."""
    count = samples.size // block
    return np.asarray(np.square(samples[: count * block].reshape(count, block)).sum(axis=1), dtype=np.float64)


def moving(samples: Signal, block: int) -> Levels:
    """The energy of each whole block but for what stays the same for some blocks before or after: an offset.

    Muted, a recording with an offset holds its opposite once that is taken off: 45 dB below music at -60 dBFS or so.
    What a room rings on with is slow, and moves from block to block.
    """
    count = samples.size // block
    blocks = samples[: count * block].reshape(count, block).astype(np.float64)
    means = blocks.mean(axis=1)
    beside = np.pad(means, STAYS, constant_values=np.inf)
    off = [np.abs(beside[STAYS + by :][:count] - means) for by in range(-STAYS, STAYS + 1)]
    moved = np.minimum(np.max(off[:STAYS], axis=0), np.max(off[STAYS + 1 :], axis=0))
    return np.asarray(block * (blocks.var(axis=1) + np.square(moved)))


def joined(out: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """The stretches of blocks that are marked, from and to, those that are some blocks apart as one."""
    found: list[tuple[int, int]] = []
    for start, end in runs(out):
        if found and start - found[-1][1] <= JOINED:
            found[-1] = found[-1][0], end
        else:
            found.append((start, end))
    return found
