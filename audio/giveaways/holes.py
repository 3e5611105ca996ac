"""Stretches of 0.1 s and more in which one of two recordings is silent while the other plays on. Pure.

Whose a hole is, is plain: whoever is silent has it. What must be kept from it is the music's own pause, in which a
room may ring on in one of them: there the dry recording explains what the wet one holds, in a hole it does not.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .blocks import Levels, energies, faintest_heard, joined, loud, moving
from .filter_residual import Explained, Signal
from .moments import Moment

BLOCK_S = 0.005
SHORTEST_S = 0.09  # what is shorter is looked for as a gap, which need not be empty
SHORT_SOUND_S = 0.25  # a sound that is longer may be music as well
EMPTY = 0.01  # of the energy that it would have, or of the faintest that is heard
SILENT_DB = 45.0  # below its own loud moments: beside another's louder sound, music that plays is no silence
PLAYING = 0.5  # of the blocks of a hole, in which the other plays
UNEXPLAINED = 0.5  # of the energy there
AMID, BESIDE = 2.0, 34  # times what is left over beside it, in so many blocks before or after: noise is there too
SMOOTH = 8  # blocks
STANDS_OUT, SOUND_STANDS_OUT = 2.5, 4.0  # times: in a room what is left over must come and go, not only ring on
COMES = 0.25  # of the energy where a hole begins: a room's decay is explained
EDGE, AS_USUAL = 4, 0.1  # blocks just outside, and of the energy: there it plays as the other does
GOES_ON = 0.3  # of the energy just outside


def holes(
    known: Explained, rate_hz: int, channel: int, *, in_a_room: bool = False
) -> tuple[list[Moment], list[Moment]]:
    """The holes in one channel of either recording, and the short sounds that one holds in a pause of the other.

    A sound that is longer, from a pause to a pause, may be music that the other lacks: a hole of nobody knows whose.
    In a room nothing is told where what is left over only fades away after the music, or only swells before it.
    """
    block = round(BLOCK_S * rate_hz)
    heard, foretold, source, left = (
        energies(each, block) for each in (known.heard, known.foretold, known.source, known.left)
    )
    if not heard.size:
        return [], []
    both = (heard > faintest_heard(heard)) & (source > faintest_heard(source))
    if not both.any():
        return [], []
    source = source * float(np.median(heard[both] / source[both]))
    # what is foretold where its source is silent is a room's, or smeared to there
    foretold_now = np.where(source > faintest_heard(source), foretold, 0.0)
    louder = np.maximum(heard, foretold)
    found, sounds = [], []
    for samples, gone, there, of_other in (
        (known.heard, heard, foretold_now, known.of_other),
        (known.source, source, heard, not known.of_other),
    ):
        for begins, end in _runs(gone, there, _silent(samples, block)):
            start = _where_it_comes(left, louder, begins, end)
            if (end - start) * BLOCK_S < SHORTEST_S:
                continue
            share = float(left[start:end].sum() / max(float(louder[start:end].sum()), 1e-20))
            beside = [float(each.mean()) for each in (left[:start][-BESIDE:], left[end:][:BESIDE]) if each.size]
            if share <= UNEXPLAINED or left[start:end].mean() <= AMID * min(beside, default=0.0):
                continue
            breaks_off = _breaks_off(gone, there, left, start, end)
            at_s, lasts_s = (start + end) / 2 * block / rate_hz, (end - start) * block / rate_hz
            is_sound = not breaks_off and lasts_s <= SHORT_SOUND_S
            is_sure = start == begins and not is_sound
            if in_a_room and _comes_and_goes(left, start, end) <= (STANDS_OUT if is_sure else SOUND_STANDS_OUT):
                continue
            if is_sound:
                over_db = float(10 * np.log10(there[start:end].sum() / (gone[start:end].sum() + faintest_heard(gone))))
                sounds.append(Moment(at_s, lasts_s, channel, over_db, not of_other))
            else:
                found.append(Moment(at_s, lasts_s, channel, share, of_other if breaks_off and is_sure else None))
    return found, sounds


def _silent(samples: Signal, block: int) -> NDArray[np.bool_]:
    """In which blocks nothing moves beside its own loud moments: a recording with an offset falls silent to a step."""
    moves = moving(samples, block)
    return np.asarray(moves < loud(moves) * 10 ** (-SILENT_DB / 10))


def _runs(gone: Levels, there: Levels, silent: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """The stretches, from block to block, in which one is gone and the other plays at the beginning and at the end."""
    playing = there > faintest_heard(there)
    empty = (gone < EMPTY * np.maximum(there, faintest_heard(there))) & silent
    found = []
    for start, end in joined(empty):
        plays = np.flatnonzero(playing[start:end])
        if plays.size:
            first, last = start + int(plays[0]), start + int(plays[-1]) + 1
            if (last - first) * BLOCK_S >= SHORTEST_S and plays.size >= PLAYING * (last - first):
                found.append((first, last))
    return found


def _where_it_comes(left: Levels, louder: Levels, start: int, end: int) -> int:
    """Where a hole begins: at once if what is left over comes there, else where that rises from its least to its most.

    Until then a room rings on into a pause of both, explained for the most part; what comes in it may be a sound of the
    one that rings.
    """
    first = left[start:][:SMOOTH]
    risen = first.mean() > STANDS_OUT * left[max(start - SMOOTH, 0) : start].sum() / SMOOTH
    if risen and first.sum() > COMES * louder[start:][:SMOOTH].sum():
        return start
    most = start + int(left[start:end].argmax())
    ahead = np.convolve(left[start : most + EDGE], np.full(EDGE, 1 / EDGE), "valid")
    return start + int(np.flatnonzero(ahead <= STANDS_OUT * ahead.min())[-1])


def _comes_and_goes(left: Levels, start: int, end: int) -> float:
    """How many times more is left over at some moment than earlier and than later, to just outside."""
    near = left[max(start - SMOOTH, 0) : end + SMOOTH]
    course = np.convolve(near, np.full(SMOOTH, 1 / SMOOTH), "valid")
    before = np.minimum.accumulate(course)
    after = np.minimum.accumulate(course[::-1])[::-1]
    return float((course / np.maximum(np.maximum(before, after), 1e-20)).max())


def _breaks_off(gone: Levels, there: Levels, left: Levels, start: int, end: int) -> bool:
    """Whether the silent one plays as the other does just before or just after, and that one goes on or went on there.

    Where both begin to play just after, a sound may have come in a pause of both as well.
    """
    sides = (
        (slice(max(start - EDGE, 0), start), slice(start, start + EDGE)),
        (
            slice(end, end + EDGE),
            slice(end - EDGE, end),
        ),
    )
    return any(
        there[outside].size > 0
        and there[outside].max() > faintest_heard(there)
        and gone[outside].sum() > AS_USUAL * there[outside].sum()
        and left[outside].sum() < gone[outside].sum() + there[outside].sum()
        and there[inside].sum() > GOES_ON * there[outside].sum()
        for outside, inside in sides
    )
