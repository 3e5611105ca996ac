"""Points between the samples of a sound, and how high they can lie at most. Pure arithmetic on arrays.

A point is the sum of the 64 samples around it, each times a windowed sinc. Two bounds on its height are exact (up to
rounding, and then by some parts in 10^16):

- It is at most the highest of those samples times the sum of the filter's sizes, 2.8 at most.
- The filter is a straight line between the two middle samples plus a rest whose sum and first moment are nothing, so
  the rest can be written as a filter of the sound's second differences: a point lies no higher than the higher of the
  two middle samples by more than the largest second difference around it times 0.55. Where sound is mostly made of
  low notes, as music is, neighbouring samples differ little and this is close.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

# Samples that each interpolated point is made of, and the window over them: our own choice. Computed: what is
# interpolated differs from the true waveform by less than -76 dB up to 0.45 of the sample rate (20 kHz at
# 44.1 kHz).
TAPS = 64
KAISER_BETA = 8.0
BEFORE = TAPS // 2 - 1  # samples ahead of the two between which a point lies
PIECE, CELL = 512, 32  # gaps between samples that are passed over together: first by one bound, then by the other
AT_ONCE = 256  # cells made denser at a time, so that memory stays bounded
# More than all rounding in a bound: of 64-bit numbers, and of 32-bit ones, whose smallest is about 1e-38.
ROUNDING, ROUGH_ROUNDING, TINY = 1e-12, 1e-5, 1e-36

Array = NDArray[np.float64]


def highest_between(stretch: Array, times: int, highest: float) -> float:
    """The largest size of a point between samples of the stretch, or anything up to `highest` if none is above.

    Parameters
    ----------
    stretch
        Shape (channels, frames), 63 frames longer than a multiple of `PIECE`: the points are those which it holds all
        64 samples for.
    times
        How many times the samples are made denser.
    highest
        Points up to this need not be found.
    """
    found = 0.0
    for windows in _promising(stretch, _filters(times), highest):
        points = windows @ _filters(times).dense
        found = max(found, float(points.max()), -float(points.min()))
    return found


def interpolators(times: int) -> Array:
    """The filters of the points between two samples, shape (times - 1, 64).

    The point that falls on a sample would give back the sample, because a sinc of this width is 0 at every other.
    """
    # Distance, in samples, of each tap from the point to be made, for each point between two samples.
    distance = np.arange(TAPS)[None, :] - BEFORE - np.arange(1, times)[:, None] / times
    window = np.i0(KAISER_BETA * np.sqrt(np.maximum(0.0, 1 - (distance / (TAPS / 2)) ** 2))) / np.i0(KAISER_BETA)
    filters = np.sinc(distance) * window
    filters /= filters.sum(axis=1, keepdims=True)  # a constant stays exactly what it is
    return np.asarray(filters)


@dataclass(frozen=True, eq=False)
class _Filters:
    """The largest sum of a filter's sizes; of its rest's on second differences; all points of a cell as one matrix."""

    size: float
    curved: float
    dense: Array


@functools.cache
def _filters(times: int) -> _Filters:
    filters = interpolators(times)
    rest = filters.copy()
    share = filters @ (np.arange(TAPS) - BEFORE)  # where between the two middle samples the straight line is read
    rest[:, BEFORE] -= 1 - share
    rest[:, BEFORE + 1] -= share
    assert np.all((share >= 0) & (share <= 1))
    on_second_differences = np.cumsum(np.cumsum(rest, axis=1), axis=1)[:, : TAPS - 2]
    dense = np.zeros((CELL + TAPS - 1, CELL, times - 1))
    for gap in range(CELL):
        dense[gap : gap + TAPS, gap] = filters.T
    return _Filters(
        size=float(np.abs(filters).sum(axis=1).max()),
        curved=float(np.abs(on_second_differences).sum(axis=1).max()),
        dense=dense.reshape(CELL + TAPS - 1, -1),
    )


def _promising(stretch: Array, filters: _Filters, highest: float) -> Iterator[Array]:
    """The cells with a point that may be above `highest`: the samples each needs, shape (up to 256, 32 + 63)."""
    channel, piece = _pieces(stretch, filters, highest)
    if channel.size == 0:
        return
    taken = sliding_window_view(stretch, PIECE + TAPS - 1, axis=1)[channel, piece * PIECE]
    heights = _largest(np.abs(taken[:, CELL : CELL + PIECE]), CELL)
    heights = np.maximum(heights, np.abs(taken[:, CELL - 1 : PIECE : CELL]))
    steps = np.diff(taken, axis=1)
    bends = np.zeros((channel.size, PIECE + 2 * CELL))
    np.subtract(steps[:, 1:], steps[:, :-1], out=bends[:, : PIECE + TAPS - 3])
    curves = _largest(np.abs(bends, out=bends), CELL)
    curves = np.maximum(np.maximum(curves[:, :-2], curves[:, 1:-1]), curves[:, 2:])
    row, cell = np.nonzero((heights + curves * filters.curved) * (1 + ROUNDING) > highest)
    windows = sliding_window_view(taken, CELL + TAPS - 1, axis=1)
    for start in range(0, row.size, AT_ONCE):
        part = slice(start, start + AT_ONCE)
        yield windows[row[part], cell[part] * CELL]


def _pieces(stretch: Array, filters: _Filters, highest: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The pieces with a point that may be above `highest`, by channel and number; by 32-bit numbers, which is quick."""
    channels, frames = stretch.shape
    pieces = (frames - (TAPS - 1)) // PIECE
    rough = np.zeros((channels, (pieces + 1) * PIECE), dtype=np.float32)
    with np.errstate(over="ignore", invalid="ignore"):  # what is too large for 32 bits is looked at in 64
        rough[:, :frames] = stretch
        sizes = np.abs(rough)
        tops = _tops(sizes)
        beaten = (tops * filters.size + TINY) * (1 + ROUGH_ROUNDING) <= highest
        if not beaten.all():
            steps = np.subtract(rough[:, 1:], rough[:, :-1], out=sizes[:, :-1])
            np.abs(np.subtract(steps[:, 1:], steps[:, :-1], out=rough[:, :-2]), out=sizes[:, :-2])
            beaten |= (tops + filters.curved * _tops(sizes) + TINY) * (1 + ROUGH_ROUNDING) <= highest
    channel, piece = np.nonzero(~beaten)
    return channel, piece


def _tops(sizes: NDArray[np.float32]) -> Array:
    """The largest size in each piece and the one after it, of which the last points of a piece are made."""
    own = _largest(sizes, PIECE).astype(np.float64)
    return np.asarray(np.maximum(own[:, :-1], own[:, 1:]))


def _largest(rows: NDArray[Any], part: int) -> NDArray[Any]:
    """The largest of each part of so many in a row; as parts of one long row, which numpy reads in half the time."""
    return np.maximum.reduceat(rows.ravel(), np.arange(0, rows.size, part)).reshape(rows.shape[0], -1)
