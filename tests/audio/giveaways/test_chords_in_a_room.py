"""Chords of an organ that break off, nearly mono, in a room: its reverberation is in the side, and nothing moves."""

from __future__ import annotations

import numpy as np
import pytest

from audio.clip import Clip
from audio.giveaways import crossed_over, gain_course, moving_balance
from tests import families

from .equally_loud import RATE_HZ, Samples

LENGTH_S = 8.0
SCALE = (0, 2, 4, 5, 7, 9, 11)


def chords(rng: np.random.Generator) -> Samples:
    """Four notes of odd harmonics at once, each a little to one side, 0.4 to 1.2 s; then the next four."""
    t, begins_s = np.arange(round(LENGTH_S * RATE_HZ)) / RATE_HZ, 0.1
    made = np.zeros((t.size, 2))
    while begins_s < LENGTH_S - 0.3:
        lasts_s = float(rng.choice([0.4, 0.6, 0.9, 1.2]))
        for degree in rng.choice(14, 4, replace=False):
            hz = 220 * 2 ** ((SCALE[degree % 7] + 12 * (degree // 7) - 9) / 12)
            first, last = round(begins_s * RATE_HZ), min(round((begins_s + 0.9 * lasts_s) * RATE_HZ), t.size)
            seconds = t[first:last] - begins_s
            stops = [times for times in (1, 3, 5, 7, 9) if hz * times < 6000]
            tone = sum(np.sin(2 * np.pi * hz * times * seconds + rng.uniform(0, 6.3)) / times**1.2 for times in stops)
            gate = np.minimum(1, np.minimum(np.arange(last - first), np.arange(last - first)[::-1]) / (0.004 * RATE_HZ))
            to_one_side = rng.uniform(-0.05, 0.05)
            made[first:last] += (tone * gate)[:, None] * [1 + to_one_side, 1 - to_one_side]
        begins_s += lasts_s
    return np.asarray(made * 0.5 / np.abs(made).max())


def test_what_a_room_makes_of_other_chords_is_no_width_that_moves(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without asking what crosses over, a width that moves by 3 dB and more was told of these."""
    rng = np.random.default_rng(28)
    played = chords(rng)
    pair = [families.noisy(rng, each, 60.0) for each in (played, families.room(rng, played, 0.5, -2.3, RATE_HZ))]
    clips = Clip(pair[0], RATE_HZ), Clip(pair[1], RATE_HZ)
    spectra = gain_course.both(*clips)
    assert spectra is not None
    assert moving_balance.apart(clips, spectra) is None
    monkeypatch.setattr(crossed_over, "moves", lambda *_: True)
    seen = moving_balance.apart(clips, spectra)
    assert seen is not None  # else this pair shows nothing
    assert seen.by_db > 3
