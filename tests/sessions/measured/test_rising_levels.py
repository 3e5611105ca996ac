"""The same sweep at rising levels, through the command line and a room that is only arithmetic."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import numpy as np
import pytest

from audio.engine.recording import Recording
from audio.engine.routes import Route
from sessions.casebook import catalogue, playback_chain
from sessions.casebook.store import create
from tests.command_line import earwitness
from tests.room import Room, Speaker

MISSING_DB = {-30: 0.0, -24: 0.4, -18: 1.2}


class Tiring(Room):
    """A loudspeaker that gets hot: at each level of the sweep's peak so many decibels are missing."""

    def record(self, signal: np.ndarray, route: Route, source: Route, rate_hz: int, **how: float) -> Recording:
        level = round(20 * np.log10(float(np.abs(signal).max())))
        tired = (signal * 10 ** (-MISSING_DB[level] / 20)).astype(np.float32)
        return super().record(tired, route, source, rate_hz, **how)  # type: ignore[arg-type]


@pytest.fixture
def book(tmp_path: Path) -> Path:
    with create(tmp_path / "book") as casebook:
        catalogue.add_setup(casebook, "sallow", "", playback_chain.routed("room:1"))
    return tmp_path / "book"


def sweep(book: Path, *more: str) -> tuple[int, str]:
    done = earwitness(
        book, "curve", "sweep", "sallow", "--mic", "room:1", "--seconds", "1", "--averages", "1", "--gate", "50",
        "--volts", "1", *more, recorder=Tiring([Speaker(-14, 3)], noise_dbfs=-90),
    )  # fmt: skip
    return done.returncode, done.stderr + done.stdout


def test_what_is_missing_at_each_level_comes_back(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("g\ng\ng\n"))
    status, said = sweep(book, "--levels", "-30:-18:6")
    assert status == 0, said
    assert "can destroy tweeters" in said
    assert "3 of 3: Sweep at -18 dBFS, 6 dB louder than the last: mind ears and drivers" in said
    assert "3 levels taken" in said
    done = earwitness(book, "curve", "show", "sallow", "--what", "compression", "--json")
    numbers = json.loads(done.stdout)["numbers"]
    assert numbers["against"]["level"] == "-30.0 dBFS, 1 V"
    assert list(numbers["levels"]) == ["-24.0 dBFS, 2 V", "-18.0 dBFS, 3.98 V"]  # the volts rise with the level
    for found, missing in zip(numbers["levels"].values(), (0.4, 1.2), strict=True):
        hz, db = np.array(found["hz"]), np.array(found["db"])
        inside = (hz > 50) & (hz < 18_000)
        assert db[inside] == pytest.approx(-missing, abs=0.05)
    told = earwitness(book, "curve", "show", "sallow", "--what", "compression").stdout
    assert "-18.0 dBFS, 3.98 V, 12.0 dB above -30.0 dBFS, 1 V: -1.2" in told


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (("--levels", "-18:-30:6"), "--levels rises"),
        (("--levels", "-30"), "takes FROM:TO:STEP in dBFS"),
        (("--levels", "-30:-6:6"), "--level -6 is out of range"),
        (("--levels", "-30:-18:6", "--angles", "0:10:10"), "not both"),
    ],
)
def test_levels_that_do_not_fit_get_one_line_and_play_nothing(book: Path, more: tuple[str, ...], says: str) -> None:
    status, said = sweep(book, *more)
    assert (status, said.count("\n")) == (2, 1)
    assert says in said
