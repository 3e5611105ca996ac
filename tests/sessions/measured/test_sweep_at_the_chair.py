"""A sweep through the imaginary room on a JACK dummy server: level, delay, response and noise come back."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import butter, freqz

from sessions.casebook import catalogue, playback_chain
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import create, open_casebook
from sessions.measured import curve_records
from sessions.measured.frequency_response import response_of
from tests.jack import Server
from tests.room import Room, Speaker
from tests.sessions.preparation.test_match_at_the_chair import earwitness

pytestmark = pytest.mark.jack


@pytest.fixture
def book(tmp_path: Path) -> Path:
    with create(tmp_path / "book") as casebook:
        catalogue.add_setup(casebook, "sallow", "", playback_chain.routed("room:1"))
        catalogue.add_setup(casebook, "bracken", "", playback_chain.routed("room:2"))
    return tmp_path / "book"


def test_the_room_between_loudspeaker_and_microphone_comes_back(book: Path, server: Server) -> None:
    """-20 dB, 3 ms, a 200 Hz low cut, noise at -80 dBFS: within 0.3 dB; the other setup flat and 6 dB louder."""
    quick = ("--mic", "room:1", "--seconds", "1.5", "--averages", "1", "--gate", "100", "--level", "-20", "--json")
    with Room(server, [Speaker(-20, 3, 200.0), Speaker(-14, 4)], noise_dbfs=-80):
        for name in ("sallow", "bracken"):
            done = earwitness(book, "curve", "sweep", name, *quick)
            assert done.returncode == 0, done.stderr
            assert "can destroy tweeters" in done.stderr
            assert len(json.loads(done.stdout)["curves"]) == 1
        deaf = earwitness(book, "curve", "sweep", "sallow", "--mic", "room:2", "--seconds", "1")
        assert deaf.returncode == 2
    hz = np.geomspace(150, 10_000, 40)
    b, a = butter(2, 200, "high", fs=48_000)
    _, cut = freqz(b, a, worN=hz, fs=48_000)
    with open_casebook(book) as casebook:
        curves = {}
        for name in ("sallow", "bracken"):
            kept = curve_records.of_setup(casebook, catalogue.find(casebook, Setup, name)).on_axis
            assert kept is not None
            curves[name] = response_of(kept).at(hz)
            assert kept.conditions.gate_ms == pytest.approx(100)
        distortion = curve_records.of_setup(casebook, catalogue.find(casebook, Setup, "sallow")).distortion
    assert curves["sallow"] == pytest.approx(-20 + 20 * np.log10(np.abs(cut)), abs=0.3)
    assert curves["bracken"] == pytest.approx(-14, abs=0.3)
    assert set(distortion) == {2, 3, 4, 5}
    assert float(np.median(distortion[2].values)) < -40
