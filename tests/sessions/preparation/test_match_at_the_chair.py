"""Matching at a microphone, every step by the command line: in a room by arithmetic, and once through real streams."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from audio.files import reading
from audio.levels.weighting import level_db
from audio.room import reading as chair_reading
from demo_tracks import tracks
from sessions.casebook.store import Casebook, open_casebook
from sessions.preparation import match_real_gear, match_sheet
from sessions.preparation.meanings import meanings
from sessions.preparation.selection import select
from sessions.results import verification
from tests.casebooks import judged
from tests.command_line import earwitness
from tests.jack import Server
from tests.jack_room import jack_room
from tests.room import Room, Speaker
from tests.terminal import Terminal, answer_on_screen, listen_on_screen

PLANTED_DB = 1.37
QUICK = ("--repeatability", "0.3")  # noises of a second, so that the tests are
PAIR = [Speaker(-20.0, 3.0), Speaker(-20.0 - PLANTED_DB, 3.4)]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook with two mono routes of the room and one passage."""
    folder = tmp_path_factory.mktemp("chair") / "book"
    for words in (
        ("new", str(folder)),
        ("setup", "add", "sallow", "--route", "room:1"),
        ("setup", "add", "bracken", "--route", "room:2"),
        ("track", "add", "drums", "--music", str(tracks.path("drums"))),
        ("passage", "add", "drums", "--from", "1", "--to", "4"),
    ):
        done = earwitness(folder, *words)
        assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    return Path(shutil.copytree(made, tmp_path / "book"))


def matched(book: Path, room: Room | None) -> dict[str, Any]:
    """The sheet of `match mic`, in which the planted difference is found, trimmed, and found gone."""
    done = earwitness(book, "match", "mic", "--mic", "room:1", *QUICK, "--json", recorder=room)
    assert done.returncode == 0, done.stderr
    sheet: dict[str, Any] = json.loads(done.stdout)
    assert "Start quiet" in done.stderr
    for weighting, found in sheet["evidence"]["before"].items():
        difference = found["differences"][0]
        assert abs(difference["difference_db"] - PLANTED_DB) <= difference["uncertainty_db"], weighting
    gains = sheet["readings"]["gains"]
    assert gains["sallow"] - gains["bracken"] == pytest.approx(-PLANTED_DB, abs=0.03)
    assert sheet["residual_lu"] <= max(pair["uncertainty_lu"] for pair in sheet["readings"]["pairs"]) < 0.1
    late = sheet["evidence"]["arrivals_ms"]
    assert late["bracken"] - late["sallow"] == pytest.approx(0.4, abs=0.03)
    assert set(sheet["evidence"]["crest_db"]) == {"band", "full"}
    return sheet


def refused(book: Path, room: Room, *arguments: str) -> str:
    done = earwitness(book, "match", "mic", *QUICK, *arguments, recorder=room)
    assert done.returncode == 2, done.stdout
    assert len(done.stderr.strip().splitlines()) == 2  # the caution, and one line
    return done.stderr


@pytest.mark.jack
def test_a_planted_difference_is_found_through_real_streams(
    book: Path, server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What surrounds each noise is shorter than in a real room, since this one has no echo; the noises are the same."""
    for name, seconds in (("LEAD_S", 0.3), ("GAP_S", 0.1), ("STEP_S", 0.5)):
        monkeypatch.setattr(chair_reading, name, seconds)
    with jack_room(server, Room(PAIR)):
        matched(book, None)


def test_a_planted_difference_is_found_trimmed_and_found_gone(book: Path) -> None:
    """One evening at the chair: calibrate in dB SPL, match, and know each setup's level at the ears."""
    calibrate = ("level", "calibrate", "--mic", "room:1", "--calibrator", "94", "--json")
    done = earwitness(book, *calibrate, recorder=Room(PAIR, tone_dbfs=-40.0))
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["offset_db"] == pytest.approx(94 + 40, abs=0.05)
    sheet = matched(book, Room(PAIR))
    assert sheet["evidence"]["spl_offset_db"] == pytest.approx(134, abs=0.05)
    own = sheet["passages"][0]["setups"]
    # by hand: the prepared music's A-weighted level, through a way of -20 dB, at a microphone of 134 dB SPL full scale
    for part, prepared in zip(own, sheet["passages"][0]["prepared"]["setups"], strict=True):
        clip = reading.read(book / "prepared" / prepared["file"])
        way = -20.0 if part["setup"] == "sallow" else -20.0 - PLANTED_DB
        level = level_db(clip, "a")
        assert level is not None
        assert part["chair_dba"] == pytest.approx(level + way + 134, abs=0.1)


def test_a_planted_difference_is_trimmed_in_phon_at_the_level_taken(book: Path) -> None:
    """By the loudness of the noise; both channels play it alike, so the trim is the planted difference."""
    loudness = ("match", "mic", "--mic", "room:1", *QUICK, "--by", "zwicker", "--tolerance", "0.05")
    done = earwitness(book, *loudness, "--chair-level", "70", recorder=Room(PAIR))
    assert done.returncode == 0, done.stderr
    assert "the noise of the softest setup is taken to play at 70 dB SPL" in done.stdout
    assert "the trims would move by 0.00 dB at most" in done.stdout  # the same sound at another level: so it must be
    assert "Matched by loudness by ISO 532-1 (Zwicker, as a steady sound) of the noise at the microphone" in done.stdout
    assert "K-weighted level " in done.stdout
    with open_casebook(book) as casebook:
        sheet = next(match_sheet.newest_first(casebook)).record
        again = match_real_gear.further_passages(casebook, select(casebook, [], []))
    assert sheet.readings is not None
    gains = sheet.readings.gains
    assert gains["sallow"] - gains["bracken"] == pytest.approx(-PLANTED_DB, abs=0.03)
    assert sheet.residual_lu < 0.03
    assert (again.taken, again.passages[0].meanings) == (sheet.taken, sheet.passages[0].meanings)
    found = meanings(sheet)
    assert found is not None
    assert {one.by for one in found.given} == {"bs1770", "a", "c", "z", "band", sheet.taken}
    assert found.most_db < 0.05  # setups of one balance: it does not matter


def test_a_meter_beside_the_microphone_calibrates_it_too(book: Path) -> None:
    """Pink noise of -30 dBFS RMS through -20 dB; the meter says 70 dBA, so full scale is 70 dB above what was read."""
    meter = ("level", "calibrate", "--mic", "room:1", "--meter", "70", "--route", "room:1", "--json")
    done = earwitness(book, *meter, recorder=Room(PAIR))
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["offset_db"] == pytest.approx(70 - found["read_dbfs"], abs=1e-9)
    assert -56 < found["read_dbfs"] < -50  # A-weighting takes some dB off pink noise


def test_what_is_wrong_between_setup_and_microphone_is_said(book: Path) -> None:
    deaf = Room([Speaker(-20, 3), Speaker(-200, 3)])
    assert "arrives at input 1 of room" in refused(book, deaf, "--mic", "room:2")
    assert "nothing of bracken is heard at the microphone" in refused(book, deaf, "--mic", "room:1")
    follows = Room([Speaker(-20, 3), Speaker(-20, 3)], noise_dbfs=-90, agc=True)
    assert "an automatic gain control" in refused(book, follows, "--mic", "room:1")
    loud = Room([Speaker(0, 3), Speaker(0, 3)], mic_gain_db=30)
    assert "clip" in refused(book, loud, "--mic", "room:1")
    assert "no sound device called 'kitchen'" in refused(book, deaf, "--mic", "kitchen:1")


@pytest.mark.jack
def test_listening_on_routes_plays_each_setup_on_its_own_channel(
    book: Path,
    server: Server,
    terminal: Terminal,
) -> None:
    with jack_room(server, Room(PAIR)):
        volts = [f"{name}@1000={value}" for name, value in (("sallow", "2.500"), ("bracken", "2.000"))]
        readings = [word for reading in volts for word in ("--reading", reading)]
        unfinished = earwitness(book, "match", "volts", *readings)
        assert unfinished.returncode == 2
        assert "the trims are sallow -1.94 dB, bracken +0.00 dB; earwitness plays so by itself" in unfinished.stderr
        after = ("--after", "sallow=2.001", "--after", "bracken=2.000")
        matched = earwitness(book, "match", "volts", *readings, *after)
        assert matched.returncode == 0, matched.stderr
        assert "0.004 dB left" in matched.stdout
        assert earwitness(book, "giveaways").returncode == 0
        plan = ("plan", "abx", "--listener", "Ada", "--trials", "5", "--name", "evening")
        assert earwitness(book, *plan).returncode == 0
        assert earwitness(book, "seal", "evening").returncode == 0
        listen_on_screen(terminal, book)
        for trial in range(1, 6):
            answer_on_screen(terminal, trial, "a", trials=5)
        terminal.wait("All 5 trials are answered")
    with open_casebook(book) as casebook:
        check(casebook)


def check(casebook: Casebook) -> None:
    found = judged(casebook, "evening")
    assert (found.state, found.answered, found.void_reasons) == ("complete", 5, [])
    assert verification.verify(casebook).ok
