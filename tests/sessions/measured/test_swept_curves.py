"""Sweeps through a room that is only arithmetic; tests of real streams are in test_sweep_at_the_chair.py."""

from __future__ import annotations

from collections.abc import Callable

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
from sessions.measured import curve_records, curve_summary, swept_curves
from sessions.measured.conditions import Conditions, Direction
from sessions.measured.frequency_response import response_of
from sessions.measured.swept_curves import SweepSettings

MIC = Route("room", (0,))
LOW_CUT = butter(2, 200, "high", fs=48_000)


class Room:
    """3 ms away, a low cut at 200 Hz, some gain, a little second harmonic, noise: what a microphone would record."""

    def __init__(
        self,
        gain_db: float = -20.0,
        noise_dbfs: float = -100.0,
        spoil: Callable[[NDArray[np.float64]], NDArray[np.float64]] = lambda heard: heard,
        square: float = 0.05,
    ) -> None:
        self.gain, self.noise, self.square = 10 ** (gain_db / 20), 10 ** (noise_dbfs / 20), square
        self.spoil = spoil
        self.rng = np.random.default_rng(1)
        self.takes = 0

    def record(self, signal: NDArray[np.float32], route: Route, source: Route, rate_hz: int, **_: float) -> Recording:
        self.takes += 1
        heard = self.gain * lfilter(*LOW_CUT, signal[:, 0].astype(float))
        heard = np.concatenate([np.zeros(144), heard + self.square * heard**2 / self.gain])[: len(signal)]
        heard += self.noise * self.rng.standard_normal(len(heard))
        samples = np.clip(self.spoil(heard), -1, 1).astype(np.float32)[:, None]
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
    assert room.takes == 1  # one stream for all averages: one clock
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
    taken = kept.conditions.taken
    assert taken is not None
    assert taken.harmonics_percent == swept.harmonics_percent
    assert swept.harmonics_percent[2] == pytest.approx(0.25, abs=0.05)
    assert (taken.sweep.low_hz, taken.averages, taken.used, taken.disturbances) == (20.0, 2, (1, 2), ())
    assert taken.arrival_ms == pytest.approx(3, abs=0.1)  # 144 frames
    assert kept.conditions.calibration == "none"
    assert not kept.conditions.spl


def test_a_loop_without_distortion_shows_none(casebook: Casebook, routed: Setup) -> None:
    swept = swept_curves.take_sweep(casebook, Room(square=0), routed, settings(), Conditions(gate_ms=100.0))
    assert set(swept.harmonics_percent.values()) == {0.0}
    assert 0 < swept.floor_percent < 0.2


def test_the_valid_band_shrinks_to_where_the_signal_exceeds_the_noise(casebook: Casebook, routed: Setup) -> None:
    """White noise: the response falls 12 dB an octave below 200 Hz, the floor of a pink sweep 3 dB; kept with it."""
    quiet, loud = (
        swept_curves.take_sweep(casebook, Room(noise_dbfs=noise), routed, settings(), Conditions(gate_ms=100.0))
        for noise in (-100, -45)
    )
    assert quiet.record.conditions.valid_hz == (20.0, 20_000.0)
    low, high = loud.record.conditions.valid_hz
    assert 30 < low < 200
    assert high > 15_000  # the sweep's own fade makes its last part weaker
    assert any(
        f"only from {low:.0f} to {high:.0f} Hz does the response exceed the noise by 10 dB" in said
        for said in loud.said
    )
    taken = curve_records.by_id(casebook, loud.record.id).conditions.taken
    assert taken is not None
    assert taken.floor is not None
    hz = np.array([20.0, 10_000.0])
    plain = response_of(quiet.record)
    floor = taken.floor.at(hz)
    # at its end the response stands 10 dB above the floor kept with it
    assert plain.at(np.array([low]))[0] - taken.floor.at(np.array([low]))[0] == pytest.approx(10, abs=2.5)
    assert floor[1] - floor[0] == pytest.approx(27 - 2, abs=4)  # 3 dB an octave over nine


def test_a_calibrated_input_makes_curves_db_spl(casebook: Casebook, routed: Setup) -> None:
    """A tone of -20 dBFS peak comes back at -40 dBFS peak, -43.01 RMS: with 120 dB SPL at full scale 76.99."""
    swept = swept_curves.take_sweep(
        casebook,
        Room(),
        routed,
        settings(),
        Conditions(distance_m=2.0, drive_volts=1.0),
        spl_offset={"room": 120.0}.get,
    )
    assert swept.record.conditions.spl
    assert response_of(swept.record).at(np.array([2000.0]))[0] == pytest.approx(76.99, abs=0.1)
    axis = curve_summary.summary(curve_records.of_setup(casebook, routed)).on_axis
    assert axis is not None
    # 2.83 V and 1 m instead of 1 V and 2 m: +9.04 and +6.02
    assert axis.sensitivity_db == pytest.approx(76.99 + 9.04 + 6.02, abs=0.3)


def test_a_calibrated_level_at_1_khz_does_not_depend_on_the_microphone_s_file(
    casebook: Casebook, routed: Setup
) -> None:
    """The calibrator was heard through the same microphone: its file tilts the curve around 1 kHz."""
    bent = Calibration((20.0, 1000.0, 20_000.0), (0.0, 2.0, 4.0), "mic.txt, its response")
    swept = swept_curves.take_sweep(
        casebook, Room(), routed, settings(calibration=bent), Conditions(), spl_offset={"room": 120.0}.get
    )
    # the low cut takes 0.01 dB at 1 kHz
    assert response_of(swept.record).at(np.array([1000.0]))[0] == pytest.approx(76.98, abs=0.1)
    assert response_of(swept.record).at(np.array([15_000.0]))[0] == pytest.approx(76.99 - 1.81, abs=0.1)
    assert swept.record.conditions.calibration == "mic.txt, its response, 20 to 20000 Hz"


def test_words_noted_with_a_sweep_are_kept(casebook: Casebook, routed: Setup) -> None:
    swept = swept_curves.take_sweep(casebook, Room(), routed, settings(), Conditions(note="grille off"))
    assert curve_records.by_id(casebook, swept.record.id).conditions.note == "grille off"


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
