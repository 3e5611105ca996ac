"""Steady noise that one recording has more of than the other: in pauses, and wherever the music leaves a band. Pure.

In each band the moments are looked at in which the music is at its quietest there. What is in them beyond what the
other recording explains is noise if it stays the same while the music moves: a room's decay falls, and is explained by
the music before it; a gain that is raised in quiet moments raises what is 10 dB above them as well. Where the music
rises above it nowhere, it must be steady throughout.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..levels.weighting import a_weight_db
from .explained import Bands, Powers, bands, explained
from .findings import LIMITS, Finding, finding
from .unexplained import by_a_filter

LOWEST_HZ, HIGHEST_HZ = 1000.0, 18_000.0  # below, a held note looks like noise; hiss is heard above
BANDS_PER_OCTAVE = 3
WINDOW_S = 0.043
HISTORY_S = 0.7  # a decay from before the passage is explained by nothing: nothing is judged until it has gone
QUIETEST = 0.1  # of the moments
FEWEST = 8
ADJACENT = 3  # bands: noise is broad, and an octave of it is one
STANDS_OUT_DB = 2.0  # in each of them
STEADY_DB = 3.0  # between the levels that 15 % and 85 % of the quietest moments stay below; noise alone makes 2
MUSIC_DB = (10.0, 20.0)  # above what is there in the quietest moments: where a gain would show too
RAISED_MOST = 0.75  # of those moments are raised by no more
INAUDIBLE_DBFS = -85.0  # A-weighted: with music at usual levels it is below a quiet room's noise


def edges_hz(rate_hz: int) -> NDArray[np.float64]:
    """Where the bands meet, for a rate."""
    count = int(BANDS_PER_OCTAVE * np.log2(min(HIGHEST_HZ, 0.45 * rate_hz) / LOWEST_HZ))
    return np.asarray(LOWEST_HZ * 2 ** (np.arange(count + 1) / BANDS_PER_OCTAVE))


def noise(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """More steady noise in one of two recordings, of one rate, that are brought into step."""
    one, two = (bands(clip, edges_hz(clip.rate_hz), WINDOW_S) for clip in (reference, other))
    more, less = _beyond_db(reference, other, one, two), _beyond_db(other, reference, two, one)
    apart = more if more >= less else -less
    if abs(apart) <= LIMITS["noise-floor"].value:
        return []
    word = "more" if apart > 0 else "less"
    what = (
        f"{setup} has {abs(apart):.1f} dB {word} steady noise than the reference where the music leaves it to be heard"
    )
    return [finding("noise-floor", setup, passage, apart, what)]


def _beyond_db(by: Clip, what: Clip, power_by: Bands, power: Bands) -> float:
    """By how much the noise of `what` exceeds all that `by` explains, by its powers or by a filter that stays.

    Treble that is as steady as noise moves too little for its powers to tell its weight; as a wave it follows.
    """
    beyond_db = noise_beyond_db(power_by, power)
    if beyond_db <= LIMITS["noise-floor"].value or by.channels != what.channels:
        return beyond_db
    count = min(by.frames, what.frames)
    both = zip(by.samples[:count].T, what.samples[:count].T, strict=True)
    left = np.stack([by_a_filter(*each, by.rate_hz).left for each in both], axis=1).astype(np.float64)
    return min(beyond_db, noise_beyond_db(power_by, power, bands(Clip(left, by.rate_hz), power.edges_hz, WINDOW_S)))


def noise_beyond_db(by: Bands, what: Bands, left: Bands | None = None) -> float:
    """By how much the noise of `what` exceeds all that `by` explains there, A-weighted; 0 where it cannot be heard.

    No more of it counts in any band and moment than `left`, where that is known.
    """
    skip = round(HISTORY_S / by.hop_s)
    count = min(len(by.power), len(what.power))
    if count - skip < 2 * FEWEST:
        return 0.0
    one, two = by.power[:count], what.power[:count]
    if not _any_louder(one[skip:], two[skip:]):
        return 0.0
    music = explained(one, two)[skip:]
    beyond = two[skip:] if left is None else left.power[skip:count]
    one, two = one[skip:], two[skip:]
    middle_hz = np.sqrt(by.edges_hz[1:] * by.edges_hz[:-1])
    weight = 10 ** (a_weight_db(middle_hz) / 10)
    there, allowed = np.zeros(len(middle_hz)), np.zeros(len(middle_hz))
    for band in range(len(middle_hz)):
        found = _in_band(one[:, band], two[:, band], music[:, band], beyond[:, band])
        if found is not None:
            there[band], allowed[band] = found
    out = (there > 0) & (there > allowed * 10 ** (STANDS_OUT_DB / 10))
    best = 0.0
    for run in _runs(out):
        total = float(np.sum((weight * there)[run]))
        if 10 * np.log10(total) > INAUDIBLE_DBFS:
            best = max(best, 10 * float(np.log10(total / np.sum((weight * allowed)[run]))))
    return best


def _any_louder(one: Powers, two: Powers) -> bool:
    """Whether the second is louder than the first in enough bands' quietest moments; the cheap look first."""
    return bool(
        np.sum(np.quantile(two, QUIETEST, axis=0) > 10 ** (STANDS_OUT_DB / 20) * np.quantile(one, QUIETEST, axis=0))
        >= ADJACENT
    )


def _in_band(
    one: NDArray[np.float64], two: NDArray[np.float64], music: NDArray[np.float64], left: NDArray[np.float64]
) -> tuple[float, float] | None:
    """The mean power left in the quietest moments, and what is explained of it; None where it is no steady noise."""
    loudness = np.convolve(np.pad(np.maximum(one, music), 1, mode="edge"), np.ones(3) / 3, "valid")
    order = np.argsort(loudness, kind="stable")
    quiet = order[: max(FEWEST, round(QUIETEST * one.size))]
    there = float(two[quiet].mean())
    level = max(float(loudness[quiet].mean()), there)
    first, last = np.searchsorted(loudness[order], [level * 10 ** (step_db / 10) for step_db in MUSIC_DB])
    playing = order[first : max(last, first + FEWEST)]
    music_rises = playing.size >= FEWEST
    if not _steady(two[quiet] if music_rises else two):
        return None
    raised = float(np.quantile((two / np.maximum(music, one))[playing], RAISED_MOST)) if music_rises else 1.0
    allowed = max(1.0, raised) * max(float(one[quiet].mean()), float(music[quiet].mean()))
    return min(there, float(left[quiet].mean())), allowed


def _steady(power: NDArray[np.float64]) -> bool:
    low, high = np.quantile(power, (0.15, 0.85))
    return bool(high <= low * 10 ** (STEADY_DB / 10))


def _runs(out: NDArray[np.bool_]) -> list[slice]:
    """The runs of enough neighbouring bands that stand out."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], out, [False]]).astype(np.int8)))
    return [slice(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= ADJACENT]
