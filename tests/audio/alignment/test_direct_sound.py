"""The direct sound in rooms that are louder than it: what was planted is known by construction."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from audio.alignment import direct_sound, track
from audio.alignment.correlation import Signal
from tests import families

RATE_HZ = 48_000
LENGTH_S = 12.0
LATE_S = 0.005


def music(seed: int) -> tuple[np.random.Generator, Signal]:
    rng = np.random.default_rng([47, seed])
    return rng, families.played(families.score(rng, LENGTH_S), LENGTH_S, RATE_HZ)


def later(samples: Signal, by_s: float) -> Signal:
    return np.concatenate([np.zeros((round(by_s * RATE_HZ), samples.shape[1])), samples])[: len(samples)]


@pytest.mark.parametrize("seed", [0, 1, 2])
@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_the_direct_sound_is_found_under_a_room_that_is_louder(seed: int, order: tuple[int, int]) -> None:
    rng, dry = music(seed)
    heard = families.room(rng, dry, 0.4, -8.0, RATE_HZ)
    other = later(families.equaliser(rng, dry, RATE_HZ), LATE_S)[:, order]
    assert direct_sound.start_s([(heard, other)], RATE_HZ, 0.0, 0.1) == pytest.approx(LATE_S, abs=1e-4)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_nothing_is_told_of_two_rooms_that_hide_it_wholly(seed: int) -> None:
    """Without any direct sound the rooms are all there is."""
    rng, dry = music(seed)
    one, two = (families.room(rng, dry, 0.5, -60.0, RATE_HZ) for _ in range(2))
    assert direct_sound.start_s([(one, two)], RATE_HZ, 0.0, 0.1) is None


def test_recordings_of_unlike_channels_are_not_asked() -> None:
    _, dry = music(0)
    assert direct_sound.start_s([(dry, dry[:, :1])], RATE_HZ, 0.0, 0.1) is None


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_whole_recording_in_a_room_is_laid_by_its_direct_sound(seed: int, tmp_path: Path) -> None:
    rng, dry = music(seed)
    both = {
        "one": families.room(rng, dry, 0.4, -8.0, RATE_HZ),
        "two": later(families.equaliser(rng, dry, RATE_HZ), LATE_S),
    }
    for name, samples in both.items():
        soundfile.write(tmp_path / f"{name}.wav", 0.5 * samples / np.abs(samples).max(), RATE_HZ, subtype="FLOAT")
    found = track.align_files(tmp_path / "one.wav", tmp_path / "two.wav")
    assert found is not None
    assert found.best.lag_s == pytest.approx(LATE_S, abs=1e-4)
    assert not found.hidden


@pytest.mark.parametrize(("direct_db", "is_hidden"), [(-20.0, True), (0.0, False)])
def test_two_rooms_that_hide_the_start_of_a_whole_recording_are_said_to(
    direct_db: float, is_hidden: bool, tmp_path: Path
) -> None:
    rng, dry = music(3)
    for name in ("one", "two"):
        heard = families.room(rng, dry, 0.5, direct_db, RATE_HZ)
        soundfile.write(tmp_path / f"{name}.wav", 0.5 * heard / np.abs(heard).max(), RATE_HZ, subtype="FLOAT")
    found = track.align_files(tmp_path / "one.wav", tmp_path / "two.wav")
    assert found is not None
    assert found.found
    assert found.hidden == is_hidden
