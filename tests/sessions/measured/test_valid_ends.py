"""Where a curve ends: at the microphone file's own ends, and above hum that the sweep does not drown."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import butter, freqz, lfilter

from audio.engine.orders import StreamFaults
from audio.engine.recording import Recording
from audio.engine.routes import Route
from audio.room.microphone import Calibration
from sessions.casebook import catalogue, playback_chain
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook, create
from sessions.measured import swept_curves
from sessions.measured.conditions import Conditions
from sessions.measured.frequency_response import response_of
from tests.command_line import earwitness

from .test_swept_curves import Room, settings

LOW_CUT = butter(2, 55, "high", fs=48_000)


class Humming:
    """-20 dB, a low cut at 55 Hz, and mains hum at this peak level."""

    def __init__(self, hz: float, dbfs: float) -> None:
        self.hz, self.dbfs = hz, dbfs

    def record(self, signal: np.ndarray, route: Route, source: Route, rate_hz: int, **_: float) -> Recording:
        heard = 0.1 * lfilter(*LOW_CUT, np.concatenate([np.zeros(900), signal[:, 0].astype(float), np.zeros(rate_hz)]))
        heard += 10 ** (self.dbfs / 20) * np.sin(2 * np.pi * self.hz * np.arange(len(heard)) / rate_hz)
        heard += 10 ** (-95 / 20) * np.random.default_rng(5).standard_normal(len(heard))
        return Recording(heard.astype(np.float32)[:, None], rate_hz, 0.0, "room", "room", StreamFaults())


@pytest.fixture
def routed(casebook: Casebook) -> Setup:
    return catalogue.add_setup(casebook, "sallow route", "", playback_chain.routed("room:1"))


@pytest.mark.parametrize(("hz", "dbfs"), [(60, -50), (50, -48), (60, -65), (50, -90)])
def test_a_curve_is_valid_only_where_hum_moves_it_by_less_than_a_decibel(
    casebook: Casebook, routed: Setup, hz: float, dbfs: float
) -> None:
    long = Conditions(gate_ms=200.0, window="rectangular")
    swept = swept_curves.take_sweep(casebook, Humming(hz, dbfs), routed, settings(seconds=3.0, averages=4), long)
    low, high = swept.record.conditions.valid_hz
    curve = response_of(swept.record)
    inside = (curve.hz >= low) & (curve.hz <= min(high, 400))
    _, cut = freqz(*LOW_CUT, worN=curve.hz[inside], fs=48_000)
    assert curve.level_db[inside] == pytest.approx(-20 + 20 * np.log10(np.abs(cut)), abs=1.0)
    told = [line for line in swept.said if "the lines of mains hum by 20 dB; it is valid there" in line]
    if dbfs > -60:
        assert low > hz
        assert re.match(
            rf"only from {low:.0f} to {high:.0f} Hz does the response exceed the noise by 10 dB and", told[0]
        )
    if dbfs == -90:
        assert (low, told) == (20.0, [])


def test_a_curve_ends_exactly_where_the_microphone_s_file_does(casebook: Casebook, routed: Setup) -> None:
    own = Calibration((30.0, 1000.0, 15_000.0), (0.0, 0.0, 2.0), "mic.txt, its response")
    swept = swept_curves.take_sweep(
        casebook, Room(), routed, settings(averages=1, calibration=own), Conditions(gate_ms=100.0)
    )
    assert swept.record.conditions.valid_hz == (30.0, 15_000.0)
    assert any("says nothing beyond 30 to 15000 Hz, so the curve is valid only there" in line for line in swept.said)


def test_json_gives_one_curve_on_axis_smoothed_as_asked(tmp_path: Path) -> None:
    book = tmp_path / "book"
    with create(book) as casebook:
        catalogue.add_setup(casebook, "box", "")
    hz = np.geomspace(20, 20_000, 800)
    np.savetxt(tmp_path / "notch.txt", np.c_[hz, 80 - 20 * (np.abs(np.log2(hz / 1000)) < 0.02)], header="Hz dB")
    assert earwitness(book, "curve", "add", "box", str(tmp_path / "notch.txt")).returncode == 0
    for smooth in ("0", "3", "24"):
        shown = json.loads(earwitness(book, "curve", "show", "box", "--smooth", smooth, "--json").stdout)
        assert shown["on_axis"]["curve"] == shown["numbers"]
        assert (min(shown["numbers"]["db"]) < 61) == (smooth != "3")
