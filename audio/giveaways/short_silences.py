"""Silences of a few milliseconds in one of two recordings, shorter than a gap that the other leaves unexplained. Pure.

A buffer that was not filled in time leaves nothing for some milliseconds, in the midst of sound. No loudspeaker and no
room falls silent so fast and for so short a time, so each recording is asked by itself, and the other whether it plays.
In a room only the wetter one is asked: it fills the music's own pauses, which the drier one holds.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..runs import runs
from .blocks import Levels, energies, faintest_heard, loud
from .filter_residual import Signal
from .moments import Moment

BLOCK_S = 0.001
SHORTEST, LONGEST = 2, 8  # blocks that are silent as a whole; what is longer is a gap
BESIDE = 5  # blocks on either side, the next one left out: half of it may be silent
SILENT = 0.001  # of the energy of the changes on either side
FLAT = 0.1  # of the energy on either side: a flat top of what was cut off changes as little, and is loud
FAINT = 0.1  # of the moments
FALLS = 4.0  # times as far, in energy, as the other does: between the beats of a deep voice both do
PLAYS = 0.03  # of the energy on either side, of the other
FLOOR, ABOVE = 0.02, 3.0  # of the other's moments: its noise, which alone fills a pause of the music; times as much


def short_silences(
    reference: Signal, other: Signal, rate_hz: int, channel: int, *, in_a_room: bool = False
) -> list[Moment]:
    """The silences of either, of one channel (frames,) each, in step to the nearest frame.

    By how the sound changes from frame to frame: an offset and deep tones are then neither sound nor silence.
    """
    block = round(BLOCK_S * rate_hz)
    both = [energies(np.diff(each), block) for each in (reference, other)]
    whole = [energies(each - np.median(each), block) for each in (reference, other)]
    wetter = _filled(both[1]) > _filled(both[0])
    return [
        Moment((start + end) / 2 * block / rate_hz, (end - start) * block / rate_hz, channel, 1.0, of_other)
        for of_other, this, that in ((True, 1, 0), (False, 0, 1))
        if not in_a_room or of_other == wetter
        for start, end in _of_one(both[this], both[that])
        if (faint := _faint(whole[this], start, end)) < FLAT and FALLS * faint < _faint(whole[that], start, end)
    ]


def _filled(levels: Levels) -> float:
    """How loud the faint moments are beside the loud ones: a room rings on in them."""
    return float(np.quantile(levels, FAINT)) / max(loud(levels), 1e-20)


def _of_one(silent: Levels, plays: Levels) -> list[tuple[int, int]]:
    """The stretches of blocks, from and to, in which one falls silent and the other plays on."""
    heard = faintest_heard(silent)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(silent, LONGEST + 1), LONGEST + 1).max(axis=1)
    faint: NDArray[np.bool_] = silent < SILENT * np.minimum(around[: silent.size], around[LONGEST + 2 :])
    floor = ABOVE * float(np.quantile(plays, FLOOR))
    found = []
    for start, end in runs(faint):
        if not SHORTEST <= end - start <= LONGEST or start <= BESIDE or end + BESIDE + 1 > silent.size:
            continue
        before, after = _beside(start, end)
        least = min(float(silent[each].mean()) for each in (before, after))
        goes_on = min(float(plays[each].mean()) for each in (before, after))
        if plays[start:end].mean() < floor:
            continue
        if least > heard and silent[start:end].max() < SILENT * least and plays[start:end].min() > PLAYS * goes_on:
            found.append((start, end))
    return found


def _faint(level: Levels, start: int, end: int) -> float:
    """How loud a stretch is against what is beside it: what stands still where it is loud is no silence."""
    beside = min(float(level[each].mean()) for each in _beside(start, end))
    return float(level[start:end].max()) / max(beside, 1e-20)


def _beside(start: int, end: int) -> tuple[slice, slice]:
    return slice(start - 1 - BESIDE, start - 1), slice(end + 1, end + 1 + BESIDE)
