"""What a lossy coder leaves behind, beside its bandwidth: bands switched off in moments, and noise before onsets. Pure.

A hole is a band and moment that is empty in one recording, loud just before and just after, and filled in the other by
nothing that the first explains (so the decay of a room fills none). A pre-echo is treble that rises in the hundredth of
a second before a stroke, in one recording and not in the other: what rises there, not what is left of an earlier sound.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from .filter_residual import by_a_filter
from .findings import LIMITS, Finding, finding
from .foretold_power import Powers, bands, foretold
from .overdriven import fills

WINDOW_S = 0.021
LOWEST_HZ, HIGHEST_HZ, WIDTH_HZ = 3500.0, 15_500.0, 750.0  # below, coders switch nothing off; above, they do end
HOLE_DB = 16.0  # so far below what the other has there, and below its own neighbours in time
NEAR = 4  # moments before, and after
SWITCHED_DB = 16.0  # what is switched off falls by so much from a moment to the one after next; what dies away, by less
HEARD_DB, FAINTEST_DBFS = 30.0, -90.0  # below the band's mean, and below this, nothing is heard
FEWEST_CELLS = 200
ONSET_DB, LOUD_DB, FEWEST_ONSETS = 20.0, 30.0, 4  # a stroke rises by so much in 3 ms, and is among the loud ones
FAINTEST_TREBLE = 1e-10  # mean square of second differences: of noise at -108 dBFS
STROKE_MS = 3
BEFORE_MS, EARLIER_MS = (12, 3), (50, 25)  # where a pre-echo is, and where it is not yet


@dataclass(frozen=True)
class Before:
    """How loud it is just before a stroke, against earlier and against the stroke."""

    rise_db: float
    of_stroke_db: float


def coding(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """Holes and pre-echoes in one of two recordings, of one rate, that are brought into step."""
    clips = {"the reference": reference, setup: other}
    found = []
    edges = edges_hz(reference.rate_hz)
    parts = {who: bands(clip, edges, WINDOW_S).power for who, clip in clips.items()}
    for who, whom in ((setup, "the reference"), ("the reference", setup)):
        empty, share = holes(parts[who], parts[whom])
        if share > LIMITS["coding-holes"].value and not fills(clips[who], clips[whom], empty, edges, WINDOW_S):
            what = (
                f"{who} has holes in its treble that {whom} has not ({share:.1f} % of what is heard): a lossy "
                "file; bring an uncoded one"
            )
            found.append(finding("coding-holes", setup, passage, share, what))
    levels = {who: _treble_db(clip) for who, clip in clips.items()}
    for who, whom in ((setup, "the reference"), ("the reference", setup)):
        early_db = pre_echo_db(levels[who], levels[whom])
        if early_db > LIMITS["coding-pre-echo"].value:
            left = _treble_db(_unexplained(clips[whom], clips[who]))
            early_db = pre_echo_db(levels[who], levels[whom], left)
        if early_db > LIMITS["coding-pre-echo"].value:
            what = (
                f"{who} begins to sound before its strokes, unlike {whom} (by {early_db:.0f} dB): a lossy "
                "file; bring an uncoded one"
            )
            found.append(finding("coding-pre-echo", setup, passage, early_db, what))
    return found


def edges_hz(rate_hz: int) -> NDArray[np.float64]:
    """Where the bands meet, for a rate."""
    return np.arange(LOWEST_HZ, min(HIGHEST_HZ, 0.45 * rate_hz), WIDTH_HZ)


def holes(coded: Powers, whole: Powers) -> tuple[NDArray[np.bool_], float]:
    """Where `coded` is empty and `whole` is heard (moments, bands), and of how much of that in percent; in step."""
    count = min(len(coded), len(whole))
    one, two = coded[:count], whole[:count]
    steep = 10 ** (HOLE_DB / 10)
    heard = (two > two.mean(axis=0) * 10 ** (-HEARD_DB / 10)) & (two > 10 ** (FAINTEST_DBFS / 10))
    if count < 8 * NEAR or heard.sum() < FEWEST_CELLS:
        return np.zeros_like(heard), 0.0
    empty = heard & (_beside(one) * two > steep * one * np.maximum(_beside(two), two)) & _switched_off(one)
    if 100.0 * empty.sum() > LIMITS["coding-holes"].value * heard.sum():  # else it need not be explained
        lacks = two / np.maximum(foretold(one, two), 1e-20)
        empty &= lacks > steep * np.maximum(np.median(lacks, axis=1, keepdims=True), 1.0)
    return empty, 100.0 * float(empty.sum() / heard.sum())


def pre_echo_db(
    coded: NDArray[np.float64], whole: NDArray[np.float64], left: NDArray[np.float64] | None = None
) -> float:
    """By how much more `coded` rises just before the strokes of `whole`, the median; in dB of each millisecond.

    Only before strokes where `whole` does not fall: there, what `coded` still has may be the tail of what came before.
    And `coded` must rise of itself, up to more of the stroke than `whole` has there: the decay of a room and hiss fill
    pauses, and rise to no stroke; and they hide how the other one begins. What no filter makes of `whole` is `left`,
    where that is known.
    """
    count = min(coded.size, whole.size)
    rises = []
    for at in _strokes(whole[:count]):
        mine, theirs = _before(coded[:count], at, left), _before(whole[:count], at)
        if theirs.rise_db > -LIMITS["coding-pre-echo"].value:
            rises.append(min(mine.rise_db - max(theirs.rise_db, 0.0), mine.of_stroke_db - theirs.of_stroke_db))
    return float(np.median(rises)) if len(rises) >= FEWEST_ONSETS else 0.0


def _strokes(levels: NDArray[np.float64]) -> list[int]:
    """Where the loud strokes begin, in milliseconds, no two of them within the time that is looked at before each."""
    first = EARLIER_MS[0]
    if levels.size <= first + STROKE_MS:
        return []
    now = np.lib.stride_tricks.sliding_window_view(levels[first:], STROKE_MS).max(axis=1)
    before = np.lib.stride_tricks.sliding_window_view(levels, 10).max(axis=1)[first - 12 :][: now.size]
    kept: list[int] = []
    for at in np.flatnonzero((now - before > ONSET_DB) & (now > levels.max() - LOUD_DB)) + first:
        if not kept or at >= kept[-1] + first:
            kept.append(int(at))
    return kept


def _unexplained(whole: Clip, coded: Clip) -> Clip:
    """What no filter that stays makes of `whole`: one that cuts steeply rings before strokes, too, each time alike."""
    count = min(whole.frames, coded.frames)
    both = zip(whole.samples[:count].T, coded.samples[:count].T, strict=True)
    left = [by_a_filter(*each, whole.rate_hz).left for each in both]
    return Clip(np.stack(left, axis=1).astype(np.float64), whole.rate_hz)


def _before(levels: NDArray[np.float64], at: int, left: NDArray[np.float64] | None = None) -> Before:
    """What is just before a stroke; no more of it than is `left` counts."""
    power = 10 ** (levels[at - EARLIER_MS[0] : at + STROKE_MS] / 10)
    before, earlier = (
        float(power[EARLIER_MS[0] - begin : EARLIER_MS[0] - end].mean()) for begin, end in (BEFORE_MS, EARLIER_MS)
    )
    if left is not None:
        before = min(before, float(np.mean(10 ** (left[at - BEFORE_MS[0] : at - BEFORE_MS[1]] / 10))))
    stroke = float(power[EARLIER_MS[0] :].max())
    return Before(10 * float(np.log10(before / earlier)), 10 * float(np.log10(before / stroke)))


def _treble_db(clip: Clip) -> NDArray[np.float64]:
    """The level of each millisecond, the treble raised by differences."""
    block = round(clip.rate_hz / 1000)
    treble = np.diff(clip.samples, n=2, axis=0)
    count = len(treble) // block
    power = np.mean(np.square(treble[: count * block]).reshape(count, block * clip.channels), axis=1)
    return np.asarray(10 * np.log10(power + FAINTEST_TREBLE))


def _switched_off(power: Powers) -> NDArray[np.bool_]:
    """Where it has fallen at once, now or just before: strokes that die away leave room for distortion, too."""
    falls = np.zeros(power.shape, dtype=bool)
    falls[2:] = power[:-2] > 10 ** (SWITCHED_DB / 10) * power[2:]
    return np.asarray(np.logical_or.reduce([np.pad(falls, ((by, 0), (0, 0)))[: len(falls)] for by in range(NEAR)]))


def _beside(power: Powers) -> Powers:
    """The lesser of the loudest moments just before and just after each."""
    padded = np.pad(power, ((NEAR, NEAR), (0, 0)))
    most = np.max([padded[at : at + len(padded) - NEAR + 1] for at in range(NEAR)], axis=0)
    return np.asarray(np.minimum(most[: len(power)], most[NEAR + 1 :]))
