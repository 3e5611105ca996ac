"""Moments that come again wherever the same music comes again: in a loop, what each turn holds is the music's. Pure.

A recording that fails does not fail twice at one place of a loop; a room rings on into its pause at each turn.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .moments import Moment

AROUND_S = 0.4  # of the music before and after
OFF_S = 0.06  # that two moments may lie off their places in the music: a room draws one out longer than the other
THE_SAME = 0.8  # of the music: the correlation of two turns, or of a bar played again


def without_recurring(moments: Sequence[Moment], music: NDArray[np.float32], rate_hz: int) -> list[Moment]:
    """The moments without those that come again at the same place of the same music, shape (frames,)."""
    return [
        one for one in moments if not any(_same_music(one, two, music, rate_hz) for two in moments if two is not one)
    ]


def _same_music(one: Moment, two: Moment, music: NDArray[np.float32], rate_hz: int) -> bool:
    """Whether the music round two moments is the same, within `OFF_S`."""
    from scipy.signal import correlate

    around, off = round(AROUND_S * rate_hz), round(OFF_S * rate_hz)
    first, second = sorted(round(each.at_s * rate_hz) for each in (one, two))
    if first < around or second + around + off > music.size or second - first < 2 * around:
        return False
    turn = music[first - around : first + around].astype(np.float64)
    again = music[second - around - off : second + around + off].astype(np.float64)
    across = correlate(again, turn, "valid", "fft")
    powers = np.cumsum(np.concatenate([[0.0], np.square(again)]))
    size = np.sqrt((powers[turn.size :] - powers[: -turn.size]) * np.square(turn).sum())
    return bool((across / np.maximum(size, 1e-20)).max() > THE_SAME)
