"""Equal loudness at the chair by ISO 532-1: planted differences are found, in rooms made by arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from audio.clip import Clip
from audio.levels import zwicker
from audio.levels.weighting import ZWICKER, at
from audio.room import chair_loudness, reading, trims
from audio.room.microphone import Calibration
from tests.audio.room.test_matching_at_the_chair import RATE, SECONDS, heard

PLANTED_DB = 1.37


def read(gains_db: dict[str, float], noise: float, channels: int = 1, cut_hz: float = 0.0) -> trims.Position:
    """Readings of setups with these gains, all but the first with a bass cut, in the noise of the room."""
    rng = np.random.default_rng(5)
    made = reading.reading_signal(RATE, SECONDS, channels, -30.0)
    silence = noise * rng.standard_normal(round(SECONDS * RATE))
    setups = {
        name: reading.read(heard(made.signal, gain, 500, noise, rng, cut_hz if number else 0.0), made, 500, RATE)
        for number, (name, gain) in enumerate(gains_db.items())
    }
    return trims.Position(reading.background(silence, RATE), setups, silence)


def test_a_planted_difference_is_trimmed_away() -> None:
    sounds = chair_loudness.sounds([read({"sallow": -20.0, "bracken": -20.0 - PLANTED_DB}, 1e-5, channels=2)], RATE)
    gains = chair_loudness.gains_db(sounds, at(ZWICKER, 125))
    assert gains == pytest.approx({"sallow": -PLANTED_DB, "bracken": 0.0}, abs=0.02)


def test_the_rooms_own_noise_is_taken_off() -> None:
    """15 dB below the softer setup: left in, it would hide some of the difference."""
    noise = 10 ** ((-30 - 26 - 15) / 20)
    position = read({"sallow": -20.0, "bracken": -26.0}, noise)
    found = {}
    for name, silence in (("off", position.silence), ("left", 0 * position.silence)):
        sounds = chair_loudness.sounds([trims.Position(position.background, position.setups, silence)], RATE)
        found[name] = chair_loudness.gains_db(sounds, at(ZWICKER, 125))["sallow"] + 6.0
    assert abs(found["off"]) < 0.02
    assert found["left"] > 0.05


def test_setups_of_another_balance_are_equally_loud_with_their_trims() -> None:
    """Checked by the loudness itself, of the channels' sum as it is heard."""
    sounds = chair_loudness.sounds([read({"sallow": -20.0, "bracken": -20.0}, 1e-6, cut_hz=300)] * 2, RATE)
    gains = chair_loudness.gains_db(sounds, at(ZWICKER, 125))
    assert gains["bracken"] == 0.0
    assert gains["sallow"] < -0.5
    played = [Clip(clip.samples * 10 ** (gains[name] / 20), RATE) for name, clip in sounds.items()]
    one, other = zwicker.loudness_sone(played, 125)
    assert one == pytest.approx(other, rel=0.001)
    alone = chair_loudness.sounds([read({"sallow": -20.0}, 1e-6)], RATE)["sallow"]
    assert chair_loudness.level_dbfs(sounds["sallow"]) == pytest.approx(chair_loudness.level_dbfs(alone), abs=0.001)


def test_the_microphones_file_is_applied() -> None:
    position = read({"sallow": -20.0}, 1e-6)
    deaf = Calibration((20.0, 20_000.0), (-3.0, -3.0))  # reads 3 dB too little throughout
    plain, corrected = (chair_loudness.sounds([position], RATE, mic)["sallow"] for mic in (None, deaf))
    more = chair_loudness.level_dbfs(corrected) - chair_loudness.level_dbfs(plain)
    assert more == pytest.approx(3.0, abs=0.001)


def test_what_is_too_faint_to_be_heard_has_no_trim() -> None:
    sounds = chair_loudness.sounds([read({"sallow": -20.0, "bracken": -21.0}, 1e-6)], RATE)
    assert chair_loudness.gains_db(sounds, at(ZWICKER, 20)) == {}
