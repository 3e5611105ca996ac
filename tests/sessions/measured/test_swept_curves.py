"""Sweeps through a room that is only arithmetic; tests of real streams are in test_sweep_at_the_chair.py."""

from __future__ import annotations

import json

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, freqz, lfilter

from audio.engine.orders import StreamFaults
from audio.engine.recording import Recording
from audio.engine.routes import Route
from audio.errors import MeasureError
from audio.room.microphone import Calibration
from sessions.casebook import catalogue, playback_chain
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.errors import CatalogueError
from sessions.measured import curve_records, swept_curves
from sessions.measured.conditions import Conditions, Direction
from sessions.measured.frequency_response import response_of
from sessions.measured.swept_curves import SweepSettings

MIC = Route("room", (0,))
LOW_CUT = butter(2, 200, "high", fs=48_000)


class Room:
    """3 ms away, a low cut at 200 Hz, some gain, a little second harmonic, noise: what a microphone would record."""

    def __init__(self, gain_db: float = -20.0, noise_dbfs: float = -100.0) -> None:
        self.gain, self.noise = 10 ** (gain_db / 20), 10 ** (noise_dbfs / 20)
        self.rng = np.random.default_rng(1)
        self.takes = 0

    def record(self, signal: NDArray[np.float32], route: Route, source: Route, rate_hz: int, **_: float) -> Recording:
        self.takes += 1
        heard = self.gain * lfilter(*LOW_CUT, signal[:, 0].astype(float))
        heard = np.concatenate([np.zeros(144), heard + 0.05 * heard**2 / self.gain])[: len(signal)]
        heard += self.noise * self.rng.standard_normal(len(heard))
        samples = np.clip(heard, -1, 1).astype(np.float32)[:, None]
        return Recording(samples, rate_hz, 0.0, "room", "room", StreamFaults())


@pytest.fixture
def routed(casebook: Casebook) -> Setup:
    return catalogue.add_setup(casebook, "sallow route", "", playback_chain.routed("room:1"))


def settings(**others: object) -> SweepSettings:
    return SweepSettings(**{"mic": MIC, "seconds": 1.5, "averages": 2, "level_dbfs": -20.0} | others)  # type: ignore[arg-type]


def test_the_response_of_the_room_comes_back_with_its_harmonics(casebook: Casebook, routed: Setup) -> None:
    room = Room()
    swept = swept_curves.take_sweep(
        casebook, room, routed, settings(), Conditions(gate_ms=100.0), direction=Direction("vertical", -10)
    )
    assert room.takes == 2
    kept = curve_records.by_id(casebook, swept.record.id)
    assert (kept.kind, kept.direction) == ("impulse", ("vertical", -10))
    assert kept.conditions.valid_hz == (20.0, 20_000.0)
    hz = np.geomspace(150, 10_000, 40)
    _, cut = freqz(*LOW_CUT, worN=hz, fs=48_000)
    assert response_of(kept).at(hz) == pytest.approx(-20 + 20 * np.log10(np.abs(cut)), abs=0.1)
    distortion = curve_records.of_setup(casebook, routed).distortion
    assert set(distortion) == {2, 3, 4, 5}
    # 0.05·x² of a sine of amplitude 0.1 (-20 dBFS): second harmonic 0.05·0.1/2 of the fundamental, 0.25 %
    inside = (distortion[2].hz > 500) & (distortion[2].hz < 5000)
    assert np.median(distortion[2].values[inside]) == pytest.approx(20 * np.log10(0.0025), abs=1)
    note = json.loads(kept.conditions.note)
    assert set(note) == {"noise_db", "harmonics_percent", "sweep"}
    assert note["harmonics_percent"]["2"] == swept.harmonics_percent[2]
    assert note["sweep"]["low_hz"] == 20.0


def test_the_microphone_s_own_deviation_is_taken_off(casebook: Casebook, routed: Setup) -> None:
    bent = Calibration((20.0, 20_000.0), (3.0, 3.0))
    hz = np.geomspace(500, 10_000, 20)
    plain, corrected = (
        response_of(swept_curves.take_sweep(
            casebook, Room(), routed, settings(calibration=calibration), Conditions()
        ).record).at(hz)
        for calibration in (None, bent)
    )  # fmt: skip
    assert corrected - plain == pytest.approx(-3, abs=0.05)


@pytest.mark.parametrize(
    ("room", "error", "says"),
    [
        (Room(gain_db=40), MeasureError, "clip"),
        (Room(gain_db=-60, noise_dbfs=-30), CatalogueError, "dB above the noise"),
    ],
)
def test_a_recording_that_cannot_be_used_is_refused_and_nothing_is_kept(
    casebook: Casebook, routed: Setup, room: Room, error: type[Exception], says: str
) -> None:
    with pytest.raises(error, match=says):
        swept_curves.take_sweep(casebook, room, routed, settings(), Conditions())
    assert curve_records.listed(casebook) == []


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"level_dbfs": -6.0}, "begin low: sweeps burn tweeters"),
        ({"averages": 0}, "--averages 0 is out of range"),
        ({"channel": 2}, "has 1 channels; --channel 2 is not one"),
    ],
)
def test_settings_out_of_range_are_refused_before_anything_plays(
    casebook: Casebook, routed: Setup, wrong: dict[str, float], says: str
) -> None:
    room = Room()
    with pytest.raises(CatalogueError, match=says):
        swept_curves.take_sweep(casebook, room, routed, settings(**wrong), Conditions())
    assert room.takes == 0
