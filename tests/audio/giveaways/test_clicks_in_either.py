"""A click is told in whichever of two recordings it is, also where the music holds no treble to learn a filter from."""

from __future__ import annotations

import functools
from collections.abc import Callable

import numpy as np
import pytest

from audio.clip import Clip
from audio.giveaways import interruptions

from .equally_loud import RATE_HZ, Samples

LENGTH_S = 3.0
NOISE_DBFS = -85.0
CHORDS_HZ = ((220.0, 277.2, 329.6), (196.0, 246.9, 293.7), (174.6, 220.0, 261.6), (220.0, 261.6, 329.6))


def pad() -> Samples:
    """Chords of four harmonics that swell and fade, nothing above 1.4 kHz."""
    return _chords(partials=4, rise_s=0.25, decay_s=0.8)


def plucked() -> Samples:
    """Chords of nine harmonics that set in within 4 ms and decay, little above 3 kHz."""
    return _chords(partials=9, rise_s=0.004, decay_s=0.35)


@functools.cache
def _chords(partials: int, rise_s: float, decay_s: float) -> Samples:
    rng = np.random.default_rng(5)
    made = np.zeros(round(LENGTH_S * RATE_HZ))
    since = np.arange(round(1.0 * RATE_HZ)) / RATE_HZ
    shape = (1 - np.exp(-since / rise_s)) * np.exp(-since / decay_s) * np.minimum(1, (1.0 - since) / 0.1)
    for place, chord in enumerate(CHORDS_HZ * 2):
        start = round((0.05 + place * LENGTH_S / 8) * RATE_HZ)
        for fundamental in chord:
            for partial in range(1, partials + 1):
                tone = np.sin(2 * np.pi * fundamental * partial * since + rng.uniform(0, 2 * np.pi))
                room = made[start : start + since.size]
                room += (shape / partial**1.5 * tone)[: room.size]
    return np.asarray(made * 0.25 / np.abs(made).max())


def told(one: Samples, two: Samples) -> list[tuple[str, str]]:
    """The kind and the owner of each finding between two recordings of one channel."""
    first, second = (Clip(each[:, None], RATE_HZ) for each in (one, two))
    found, _ = interruptions.interruptions("p", "two", first, second, (0,))
    return [(each.kind, "one" if each.what.startswith("the reference") else each.what.split()[0]) for each in found]


@pytest.mark.parametrize("frames", [1, 4, 12, 40])
@pytest.mark.parametrize("piece", [pad, plucked])
def test_a_click_is_told_of_whichever_recording_has_it(piece: Callable[[], Samples], frames: int) -> None:
    music = piece()
    rng = np.random.default_rng(frames)
    one, two = (music + 10 ** (NOISE_DBFS / 20) * rng.normal(size=music.size) for _ in range(2))
    assert told(one, two) == []
    at = round(1.71 * RATE_HZ)
    clicked = one.copy()
    clicked[at : at + frames] += 0.5 * np.abs(music).max() * np.exp(-3 * np.arange(frames) / frames)
    assert told(clicked, two) == [("click", "one")]
    assert told(two, clicked) == [("click", "two")]


def two_strokes() -> Samples:
    """Two chords in 6 s that decay into noise before the next: most moments hold little but that."""
    rng = np.random.default_rng(8)
    made = np.zeros(round(6.0 * RATE_HZ))
    for start_s, chord in ((0.9, CHORDS_HZ[0]), (3.5, CHORDS_HZ[1])):
        since = np.arange(made.size - round(start_s * RATE_HZ)) / RATE_HZ
        for fundamental in chord:
            for partial in range(1, 9):
                tone = np.sin(2 * np.pi * fundamental * partial * since + rng.uniform(0, 2 * np.pi))
                made[-since.size :] += np.exp(-since / 0.3) * tone / partial**0.5
    return np.asarray(made * 0.5 / np.abs(made).max())


@pytest.mark.parametrize("gap_ms", [20, 60])
def test_a_gap_in_one_of_few_strokes_is_told_of_whichever_recording_has_it(gap_ms: int) -> None:
    music = two_strokes()
    rng = np.random.default_rng(gap_ms)
    one, two = (music + 10 ** (NOISE_DBFS / 20) * rng.normal(size=music.size) for _ in range(2))
    assert told(one, two) == []
    broken = one.copy()
    broken[round(1.0 * RATE_HZ) :][: round(gap_ms / 1000 * RATE_HZ)] = 0
    assert told(broken, two) == [("dropout", "one")]
    assert told(two, broken) == [("dropout", "two")]
