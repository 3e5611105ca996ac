"""A sweep through a room, by arithmetic and once through a real sound server: level, delay and response come back."""

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
from tests.command_line import earwitness
from tests.jack import Server
from tests.jack_room import jack_room
from tests.room import Room, Speaker

QUICK = ("--mic", "room:1", "--seconds", "1.5", "--averages", "1", "--gate", "100", "--level", "-20", "--json")
HZ = np.geomspace(150, 10_000, 40)
ROOM = Room([Speaker(-20, 3, 200.0), Speaker(-14, 4)], noise_dbfs=-80)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    with create(tmp_path / "book") as casebook:
        catalogue.add_setup(casebook, "sallow", "", playback_chain.routed("room:1"))
        catalogue.add_setup(casebook, "bracken", "", playback_chain.routed("room:2"))
    return tmp_path / "book"


def swept(book: Path, name: str, room: Room | None) -> np.ndarray:
    """A setup's level at `HZ`, by a sweep at the command line."""
    done = earwitness(book, "curve", "sweep", name, *QUICK, recorder=room)
    assert done.returncode == 0, done.stderr
    assert "can destroy tweeters" in done.stderr
    assert len(json.loads(done.stdout)["curves"]) == 1
    with open_casebook(book) as casebook:
        kept = curve_records.of_setup(casebook, catalogue.find(casebook, Setup, name)).on_axis
    assert kept is not None
    assert kept.conditions.gate_ms == pytest.approx(100)
    return response_of(kept).at(HZ)


def check_low_cut(level_db: np.ndarray) -> None:
    """-20 dB and a 200 Hz low cut, within 0.3 dB."""
    b, a = butter(2, 200, "high", fs=48_000)
    _, cut = freqz(b, a, worN=HZ, fs=48_000)
    assert level_db == pytest.approx(-20 + 20 * np.log10(np.abs(cut)), abs=0.3)


@pytest.mark.jack
def test_a_response_comes_back_through_real_streams(book: Path, server: Server) -> None:
    with jack_room(server, ROOM):
        check_low_cut(swept(book, "sallow", None))


def test_the_room_between_loudspeaker_and_microphone_comes_back(book: Path) -> None:
    """-20 dB, 3 ms, a 200 Hz low cut, noise at -80 dBFS: within 0.3 dB; the other setup flat and 6 dB louder."""
    check_low_cut(swept(book, "sallow", ROOM))
    assert swept(book, "bracken", ROOM) == pytest.approx(-14, abs=0.3)
    deaf = earwitness(book, "curve", "sweep", "sallow", "--mic", "room:2", "--seconds", "1", recorder=ROOM)
    assert deaf.returncode == 2
    with open_casebook(book) as casebook:
        distortion = curve_records.of_setup(casebook, catalogue.find(casebook, Setup, "sallow")).distortion
    assert set(distortion) == {2, 3, 4, 5}
    assert float(np.median(distortion[2].values)) < -40


def test_a_sweep_that_clips_is_refused(book: Path) -> None:
    loud = Room([Speaker(0, 3), Speaker(0, 3)], mic_gain_db=30)
    done = earwitness(book, "curve", "sweep", "sallow", *QUICK, recorder=loud)
    assert done.returncode == 2
    assert "clip" in done.stderr
