"""Loudness by ISO 532-1 as a measure of clips, and what is said where its library is missing."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from audio.clip import Clip
from audio.errors import MeasureError
from audio.levels import zwicker
from audio.levels.weighting import BY, block_levels_db, full_scale_spl_db, is_measure, level_db, zwicker_at

RATE = 48_000


def noise(level: float = 0.05, seconds: float = 1.2) -> Clip:
    return Clip(np.random.default_rng(3).normal(0, level, (round(seconds * RATE), 1)), RATE)


def test_a_measure_says_at_which_level_full_scale_plays() -> None:
    assert full_scale_spl_db(zwicker_at(98)) == 98.0
    assert all(map(is_measure, [*BY, "zwicker@98"]))
    for other in ("zwicker", "zwicker@", "zwicker@loud", "mic", "a@98"):
        assert not is_measure(other)
        assert full_scale_spl_db(other) is None


def test_louder_playing_is_louder_and_not_by_as_much_at_every_level() -> None:
    gained = []
    for spl in (70, 100):
        soft, loud = (level_db(noise(level), zwicker_at(spl)) for level in (0.01, 0.01 * 10**0.5))
        assert soft is not None
        assert loud is not None
        gained.append(loud - soft)
    assert gained[0] > gained[1] + 0.2  # the ear's own curve: no weighting of the spectrum does that
    assert level_db(noise(0.0), zwicker_at(98)) is None


def test_blocks_are_those_of_the_clip_and_each_has_its_own_loudness() -> None:
    one, two = noise(0.02, 0.8), noise(0.08, 0.8)
    joined = Clip(np.concatenate([one.samples, two.samples]), RATE)
    found = block_levels_db(joined, zwicker_at(98))
    alone = [level_db(Clip(joined.samples[n * 19_200 : (n + 1) * 19_200], RATE), zwicker_at(98)) for n in range(4)]
    assert found.tolist() == pytest.approx(alone, abs=1e-6)
    assert found[2] > found[1] + 8


def test_without_the_library_one_line_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [name for name in sys.modules if name.split(".")[0] == "mosqito"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "mosqito", None)
    for ask in (zwicker.check_installed, lambda: level_db(noise(), zwicker_at(98))):
        with pytest.raises(MeasureError, match=r"not installed; install .* -m pip install '\.\[loudness\]'.*pipx "):
            ask()
