"""Stretches of 0.1 s and more in which one of two recordings is silent while the other plays on. Pure.

Whose a hole is, is plain: whoever is silent has it. What must be kept from it is the music's own pause, in which a
room may ring on in one of them: there the dry recording explains what the wet one holds, in a hole it does not.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .filter_residual import Explained, Signal
from .moments import Moment

BLOCK_S = 0.005
SHORTEST_S = 0.09  # what is shorter is looked for as a gap, which need not be empty
SHORT_SOUND_S = 0.25  # a sound that is longer may be music as well
HEARD_DB = 35.0  # the other plays where it is no farther below its loud moments
EMPTY = 0.01  # of the energy that it would have, or of the faintest that is heard
SILENT_DB = 45.0  # below its own loud moments: beside another's louder sound, music that plays is no silence
JOINED = 3  # blocks
PLAYING = 0.5  # of the blocks of a hole, in which the other plays
UNEXPLAINED = 0.5  # of the energy there
AMID, BESIDE = 2.0, 34  # times what is left over beside it, in so many blocks before or after: noise is there too
EDGE, AS_USUAL = 4, 0.1  # blocks just outside, and of the energy: there it plays as the other does
Levels = NDArray[np.float64]


def holes(known: Explained, rate_hz: int, channel: int) -> tuple[list[Moment], list[Moment]]:
    """The holes in one channel of either recording, and the short sounds that one holds in a pause of the other.

    A sound that is longer, from a pause to a pause, may be music that the other lacks: a hole of nobody knows whose.
    """
    block = round(BLOCK_S * rate_hz)
    heard, foretold, source, left = (
        _energies(each, block) for each in (known.heard, known.foretold, known.source, known.left)
    )
    if not heard.size:
        return [], []
    both = (heard > _faintest(heard)) & (source > _faintest(source))
    if not both.any():
        return [], []
    source = source * float(np.median(heard[both] / source[both]))
    # what is foretold where its source is silent is a room's, or smeared to there
    foretold_now = np.where(source > _faintest(source), foretold, 0.0)
    found, sounds = [], []
    for gone, there, of_other in ((heard, foretold_now, known.of_other), (source, heard, not known.of_other)):
        for start, end in _runs(gone, there):
            share = float(left[start:end].sum() / max(float(np.maximum(heard, foretold)[start:end].sum()), 1e-20))
            beside = [float(each.mean()) for each in (left[:start][-BESIDE:], left[end:][:BESIDE]) if each.size]
            if share <= UNEXPLAINED or left[start:end].mean() <= AMID * min(beside, default=0.0):
                continue
            breaks_off = _breaks_off(gone, there, start, end)
            at_s, lasts_s = (start + end) / 2 * block / rate_hz, (end - start) * block / rate_hz
            if not breaks_off and lasts_s <= SHORT_SOUND_S:
                over_db = float(10 * np.log10(there[start:end].sum() / (gone[start:end].sum() + _faintest(gone))))
                sounds.append(Moment(at_s, lasts_s, channel, over_db, not of_other))
            else:
                found.append(Moment(at_s, lasts_s, channel, share, of_other if breaks_off else None))
    return found, sounds


def _runs(gone: Levels, there: Levels) -> list[tuple[int, int]]:
    """The stretches, from block to block, in which one is gone and the other plays at the beginning and at the end."""
    playing = there > _faintest(there)
    empty = (gone < EMPTY * np.maximum(there, _faintest(there))) & (gone < _loud(gone) * 10 ** (-SILENT_DB / 10))
    edges = np.flatnonzero(np.diff(np.concatenate([[False], empty, [False]]).astype(np.int8)))
    joined: list[tuple[int, int]] = []
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if joined and start - joined[-1][1] <= JOINED:
            joined[-1] = joined[-1][0], end
        else:
            joined.append((start, end))
    found = []
    for start, end in joined:
        plays = np.flatnonzero(playing[start:end])
        if plays.size:
            first, last = start + int(plays[0]), start + int(plays[-1]) + 1
            if (last - first) * BLOCK_S >= SHORTEST_S and plays.size >= PLAYING * (last - first):
                found.append((first, last))
    return found


def _breaks_off(gone: Levels, there: Levels, start: int, end: int) -> bool:
    """Whether the silent one plays as the other does just before or just after."""
    sides = (slice(max(start - EDGE, 0), start), slice(end, end + EDGE))
    return any(
        there[each].size > 0
        and there[each].max() > _faintest(there)
        and gone[each].sum() > AS_USUAL * there[each].sum()
        for each in sides
    )


def _faintest(levels: Levels) -> float:
    return 10 ** (-HEARD_DB / 10) * _loud(levels)


def _loud(levels: Levels) -> float:
    return float(np.quantile(levels, 0.9))


def _energies(samples: Signal, block: int) -> Levels:
    count = samples.size // block
    return np.asarray(np.square(samples[: count * block].reshape(count, block)).sum(axis=1), dtype=np.float64)
