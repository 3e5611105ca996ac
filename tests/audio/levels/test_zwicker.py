"""Loudness by ISO 532-1 as a measure of clips, and what is said where its library is missing."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from audio.clip import Clip
from audio.errors import MeasureError
from audio.levels import zwicker
from audio.levels.loudness_levels import levels_db
from audio.levels.weighting import (
    BY,
    N5,
    ZWICKER,
    at,
    block_levels_db,
    channel_levels_db,
    full_scale_spl_db,
    is_measure,
    level_db,
)

RATE = 48_000


def noise(level: float = 0.05, seconds: float = 1.2) -> Clip:
    return Clip(np.random.default_rng(3).normal(0, level, (round(seconds * RATE), 1)), RATE)


def test_a_measure_says_at_which_level_full_scale_plays() -> None:
    assert full_scale_spl_db(at(ZWICKER, 98)) == 98.0
    assert full_scale_spl_db(at(N5, 98)) == 98.0
    assert all(map(is_measure, [*BY, "zwicker@98", "zwicker-n5@98"]))
    for other in ("zwicker", "zwicker-n5", "zwicker-n6@98", "zwicker@", "zwicker@loud", "mic", "a@98"):
        assert not is_measure(other)
        assert full_scale_spl_db(other) is None


def test_louder_playing_is_louder_and_not_by_as_much_at_every_level() -> None:
    gained = []
    for spl in (70, 100):
        soft, loud = (level_db(noise(level), at(ZWICKER, spl)) for level in (0.01, 0.01 * 10**0.5))
        assert soft is not None
        assert loud is not None
        gained.append(loud - soft)
    assert gained[0] > gained[1] + 0.2  # the ear's own curve: no weighting of the spectrum does that
    assert level_db(noise(0.0), at(ZWICKER, 98)) is None


def test_blocks_are_those_of_the_clip_and_each_has_its_own_loudness() -> None:
    one, two = noise(0.02, 0.8), noise(0.08, 0.8)
    joined = Clip(np.concatenate([one.samples, two.samples]), RATE)
    found = block_levels_db(joined, at(ZWICKER, 98))
    alone = [level_db(Clip(joined.samples[n * 19_200 : (n + 1) * 19_200], RATE), at(ZWICKER, 98)) for n in range(4)]
    assert found.tolist() == pytest.approx(alone, abs=1e-6)
    assert found[2] > found[1] + 8


def test_without_the_library_one_line_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [name for name in sys.modules if name.split(".")[0] == "mosqito"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "mosqito", None)
    for ask in (zwicker.check_installed, lambda: level_db(noise(), at(ZWICKER, 98))):
        with pytest.raises(MeasureError, match=r"not installed; install .* -m pip install '\.\[loudness\]'.*pipx "):
            ask()


@pytest.mark.parametrize("method", [ZWICKER, N5])
def test_a_planted_difference_of_level_is_told_in_decibels(method: str) -> None:
    """Though a decibel of noise is less than a phon."""
    loud = noise(0.03, 0.5)
    soft = Clip(loud.samples * 10 ** (-2.5 / 20), RATE)
    found = levels_db({"loud": loud, "soft": soft}, at(method, 98))
    assert found is not None
    assert found["loud"] - found["soft"] == pytest.approx(2.5, abs=0.03)
    assert found["loud"] == pytest.approx(level_db(loud, at(method, 98)))


def test_beside_a_silent_sound_nothing_is_told() -> None:
    assert levels_db({"loud": noise(0.03, 0.5), "silent": noise(0.0, 0.5)}, at(ZWICKER, 98)) is None


def test_channels_and_blocks_by_n5_are_those_of_a_steady_sound() -> None:
    sound = Clip(np.column_stack([noise(0.02).samples, noise(0.05).samples]), RATE)
    assert channel_levels_db(sound, at(N5, 98)) == channel_levels_db(sound, at(ZWICKER, 98))
    assert block_levels_db(sound, at(N5, 98)).tolist() == block_levels_db(sound, at(ZWICKER, 98)).tolist()
