"""A sweep through a room, by arithmetic and once through a real sound server: level, delay and response come back."""

from __future__ import annotations

import io
import json
import sys
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


def test_a_calibrated_microphone_sweeps_in_db_spl_with_its_file_noted(book: Path, tmp_path: Path) -> None:
    """94 dB SPL read at -30 dBFS: full scale is 124. A tone of -20 dBFS peak comes back at -43.01 dBFS RMS."""
    calibrator = Room([Speaker(), Speaker()], noise_dbfs=-90, tone_dbfs=-30)
    assert earwitness(
        book, "level", "calibrate", "--mic", "room:1", "--calibrator", "94", recorder=calibrator
    ).returncode == 0  # fmt: skip
    (tmp_path / "mic.txt").write_text("*1000Hz -38.4\n20 0\n1000 0\n12000 3\n")
    done = earwitness(
        book, "curve", "sweep", "sallow", *QUICK, "--distance", "2", "--volts", "1.415", "--note", "grille off",
        "--calibration", str(tmp_path / "mic.txt"), "--file-lists", "response", recorder=ROOM,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "dB SPL, microphone: mic.txt, its response, 20 to 12000 Hz" in done.stderr
    assert "states a sensitivity (1000Hz -38.4); it moves no curve" in done.stderr
    assert "says nothing beyond 20 to 12000 Hz, so the curve is valid only there" in done.stderr
    with open_casebook(book) as casebook:
        kept = curve_records.of_setup(casebook, catalogue.find(casebook, Setup, "sallow")).on_axis
    assert kept is not None
    assert (kept.conditions.spl, kept.conditions.note) == (True, "grille off")
    assert kept.conditions.valid_hz[1] == pytest.approx(12_000, rel=0.03)
    assert response_of(kept).at(np.array([1000.0]))[0] == pytest.approx(124 - 43.01, abs=0.1)
    # 2.83 V instead of 1.415 V, 1 m instead of 2 m: 12.04 dB more, over 300 Hz to 3 kHz
    shown = earwitness(book, "curve", "show", "sallow", "--json")
    found = json.loads(shown.stdout)["on_axis"]["sensitivity_283_v_1_m_db"]
    assert found == pytest.approx(124 - 43.01 + 12.04, abs=0.6)


def test_a_guided_series_by_height_keeps_each_step_s_gate_and_level(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One metre away at 1.2 m: the room's speaker is as loud at each step, so the way's decibels are what differs."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("g\nn\na lorry\ng\nq\n"))
    quick = [one for one in QUICK if one not in ("--gate", "100")]
    done = earwitness(
        book, "curve", "sweep", "bracken", *quick, "--distance", "1", "--height", "1.2", "--heights", "-0.5,0,0.5",
        recorder=ROOM,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "3 of 3: Move the microphone to +0.50 m from the axis (27°), 1.70 m above the floor." in done.stderr
    assert "Not taken: vertical 27°; the same command goes on with them." in done.stderr
    with open_casebook(book) as casebook:
        kept = curve_records.of_setup(casebook, catalogue.find(casebook, Setup, "bracken")).directions
    low, axis = kept["vertical", -27], kept["vertical", 0]  # type: ignore[index]
    assert (low.conditions.gate_ms, axis.conditions.gate_ms) == (
        pytest.approx(2.998, abs=0.01),
        pytest.approx(4.662, abs=0.01),
    )
    hz = np.array([2000.0, 8000])
    assert response_of(low).at(hz) - response_of(axis).at(hz) == pytest.approx(0.969, abs=0.05)
    assert axis.conditions.note == "a lorry"
    assert low.conditions.taken is not None
    assert (low.conditions.taken.source_height_m, low.conditions.taken.microphone_height_m) == (1.2, pytest.approx(0.7))


def test_what_is_redone_in_a_series_takes_the_place_of_what_was_taken_before(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """0° is taken, redone at once, and again after going back from 10°; the first two are withdrawn, replaced by it."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("g\nr\ng\nb\ng\ng\nq\n"))
    done = earwitness(book, "curve", "sweep", "bracken", *QUICK, "--angles", "0:20:10", recorder=ROOM)
    assert done.returncode == 0, done.stderr
    listed = json.loads(earwitness(book, "curve", "list", "--json").stdout)["curves"]
    impulses = [one for one in listed if one["kind"] == "impulse"]
    assert [one["angle"] for one in impulses] == [0, 0, 0, 10]
    ids = [one["id"] for one in impulses]
    assert [one["replaced_by"] for one in impulses] == [ids[1], ids[2], None, None]
    assert {one["withdrawn"] for one in impulses[:2]} == {"taken again in the same series"}
    assert {one["withdrawn"] for one in impulses[2:]} == {""}
    harmonics = [one for one in listed if one["kind"] == "distortion"]
    assert sum(bool(one["withdrawn"]) for one in harmonics) == len(harmonics) / 2
    said = json.loads(done.stdout)
    assert (said["curves"], said["replaced"]) == (ids[2:], ids[:2])
    assert f"{ids[0]} of the same step no longer counts; this one stands for it" in done.stderr


def test_a_sweep_that_clips_is_refused(book: Path) -> None:
    loud = Room([Speaker(0, 3), Speaker(0, 3)], mic_gain_db=30)
    done = earwitness(book, "curve", "sweep", "sallow", *QUICK, recorder=loud)
    assert done.returncode == 2
    assert "clip" in done.stderr
