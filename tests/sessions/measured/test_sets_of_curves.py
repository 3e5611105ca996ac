"""Pairs, places around the chair, seatings on a coupler, rising levels: planted, and read through the command line."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured import curve_records
from sessions.measured.member import Member
from tests.sessions.commands.test_commands import run

from .measured_files import HZ, text

SHARED = ("--spl", "--distance", "1", "--volts", "2.83", "--room", "barn")


def ask(casebook: Casebook, *arguments: object) -> dict[str, Any]:
    done = run("--casebook", casebook.folder, "curve", *arguments, "--json")
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def add(casebook: Casebook, folder: Path, level_db: np.ndarray | float, *stated: object) -> str:
    path = folder / "a.txt"
    path.write_text(text(np.broadcast_to(level_db, HZ.shape)))
    return str(ask(casebook, "add", "sallow", path, *stated)["curves"][0])


def lacking(casebook: Casebook, what: str, folder: Path) -> str:
    """What a picture of it is refused with."""
    done = run("--casebook", casebook.folder, "curve", "show", "sallow", "--what", what, "--out", folder / "x.svg")
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    return done.stderr


def test_a_pair_s_level_and_balance_come_back(casebook: Casebook, tmp_path: Path) -> None:
    """The right one 0.8 dB fainter, with a bump of 2 dB at 3 kHz: left less right is 0.8 and, at the bump, -1.2 dB."""
    assert "a pair needs both sides" in lacking(casebook, "pair", tmp_path)
    bump = 2 * np.exp(-((np.log2(HZ / 3000) / 0.2) ** 2))
    left = add(casebook, tmp_path, 80.0, *SHARED, "--side", "left")
    right = add(casebook, tmp_path, 79.2 + bump, *SHARED, "--side", "right", "--gate", 20)
    found = ask(casebook, "show", "sallow", "--what", "pair", "--smooth", 0, "--out", tmp_path / "p.svg")["numbers"]
    assert (found["left"]["id"], found["right"]["id"]) == (left, right)
    apart = np.array(found["difference"]["db"])
    at = np.array(found["difference"]["hz"])
    assert apart == pytest.approx(0.8 - 2 * np.exp(-((np.log2(at / 3000) / 0.2) ** 2)), abs=0.02)
    bumps = 2 * 0.2 * np.sqrt(np.pi) / np.log2(100)  # the bump's mean over 100 Hz to 10 kHz, in octaves
    assert found["mean_difference_db"] == pytest.approx(0.8 - bumps, abs=0.01)
    assert found["departure_db"] == pytest.approx(2 - bumps, abs=0.04)
    assert found["departure_hz"] == pytest.approx(3000, rel=0.02)
    assert found["notes"] == ["gate: left not said, right 20.0 ms"]
    drawn = " ".join((tmp_path / "p.svg").read_text().split())
    for words in ("1 m; 2.83 V; dB SPL; gate differs: not said (left), gate 20 ms", "not smoothed", "kept 20"):
        assert words in re.sub(r"</?tspan[^>]*>|</text>.*?<text[^>]*>", " ", drawn), drawn


def test_a_series_of_the_other_side_is_still_to_be_measured(casebook: Casebook, tmp_path: Path) -> None:
    add(casebook, tmp_path, 80.0, "--side", "left", "--angle", 30)
    setup = catalogue.find(casebook, Setup, "sallow")
    assert curve_records.directions_of(casebook, setup, Member(side="left")) == {("horizontal", 30)}
    assert curve_records.directions_of(casebook, setup, Member(side="right")) == set()


def test_a_pair_without_a_calibration_in_common_has_no_difference_in_level(casebook: Casebook, tmp_path: Path) -> None:
    for side, level in (("left", 80.0), ("right", 70.0)):
        add(casebook, tmp_path, level, "--side", side)
    found = ask(casebook, "show", "sallow", "--what", "pair")["numbers"]
    assert found["mean_difference_db"] is None
    assert found["departure_db"] == pytest.approx(0, abs=1e-6)
    assert "at one level over 300 to 3000 Hz" in found["levels"]


def test_places_around_the_chair_are_averaged_as_energy(casebook: Casebook, tmp_path: Path) -> None:
    """80, 80 and 90 dB: (1e8 + 1e8 + 1e9)/3 is 86.02 dB; the levels' standard deviation is 10/√3 dB."""
    for place, level in (("ear left", 70.0), ("ear left", 80.001), ("ear right", 79.999), ("above", 90.0)):
        add(casebook, tmp_path, level, *SHARED, "--place", place)
    odd = add(casebook, tmp_path, 120.0, *SHARED[:-1], "hall", "--place", "sofa")
    assert "fewer than two places" in lacking(casebook, "places", tmp_path)  # the newest room has but one
    done = run("--casebook", casebook.folder, "curve", "withdraw", odd, "--why", "another room")
    assert done.returncode == 0
    odd = add(casebook, tmp_path, 120.0, *SHARED[:-1], "hall", "--place", "sofa")
    add(casebook, tmp_path, 90.002, *SHARED, "--place", "above", "--note", "again")
    found = ask(casebook, "show", "sallow", "--what", "places", "--out", tmp_path / "p.svg")["numbers"]
    mean = found["mean"]
    assert set(mean["of"]) == {"ear left", "ear right", "above"}
    assert mean["left_out"] == {odd: "another room, side, drive, calibration or smoothing"}
    assert mean["db"] == pytest.approx([10 * np.log10((2e8 + 1e9) / 3)] * len(mean["hz"]), abs=0.01)
    assert mean["spread_db"] == pytest.approx([10 / 3**0.5] * len(mean["hz"]), abs=0.01)
    assert "energy mean" in found["how"]
    assert ask(casebook, "show", "sallow")["directions"] == []  # a place in the room is no curve on axis


def test_seatings_are_averaged_in_db_beside_a_target(casebook: Casebook, tmp_path: Path) -> None:
    """Seatings differ by ±3 dB of bass; the target is 2 dB higher above 1 kHz. The same file twice is no seating."""
    bass = np.where(HZ < 200, 1.0, 0.0)
    assert "no seating on a coupler yet" in lacking(casebook, "seatings", tmp_path)
    for seal in (-3.0, 0.0, 3.0, 0.0):
        add(casebook, tmp_path, 90 + seal * bass, "--spl", "--coupler", "ear simulator", "--side", "left")
    target = tmp_path / "target.txt"
    target.write_text(text(np.where(HZ > 1000, 2.0, 0.0) + 10))
    found = ask(
        casebook, "show", "sallow", "--what", "seatings", "--smooth", 0, "--target", target, "--band", 300, 900,
        "--out", tmp_path / "s.svg",
    )["numbers"]  # fmt: skip
    left = found["left"]
    hz = np.array(left["hz"])
    assert list(left["of"]) == ["seating 1", "seating 2", "seating 3"]
    assert (len(left["of"]), list(left["left_out"].values())) == (3, ["the same reading as another"])
    assert left["db"] == pytest.approx([90.0] * len(hz), abs=0.01)
    spread = np.array(left["spread_db"])
    assert spread[hz < 190] == pytest.approx(3.0, abs=0.01)
    assert spread[hz > 210] == pytest.approx(0.0, abs=0.01)
    less, hz = np.array(left["less_target"]["db"]), np.array(left["less_target"]["hz"])
    assert less[hz < 990] == pytest.approx(0.0, abs=0.01)
    assert less[hz > 1040] == pytest.approx(-2.0, abs=0.01)
    assert found["target_file"] == "target.txt"
    drawn = (tmp_path / "s.svg").read_text()
    assert "target.txt" in drawn
    assert "target target" not in drawn
    assert "left, mean of 3" in drawn


def test_levels_brought_in_show_compression(casebook: Casebook, tmp_path: Path) -> None:
    """Ten times the voltage is 20 dB more; 1.5 dB of it are missing below 200 Hz."""
    assert "was not swept alike at two levels" in lacking(casebook, "compression", tmp_path)
    missing = np.where(HZ < 200, 1.5, 0.0)
    for volts, level in ((1.0, 80.0), (10.0, 100.0 - missing)):
        add(casebook, tmp_path, level, "--spl", "--volts", volts, "--distance", 1)
    add(casebook, tmp_path, 65.0, "--spl", "--volts", 5, "--distance", 3)
    add(casebook, tmp_path, 100.0 - 1.5 * missing / 1.5, "--spl", "--volts", 10, "--distance", 1, "--note", "again")
    found = ask(casebook, "show", "sallow", "--what", "compression", "--smooth", 0, "--out", tmp_path / "c.svg")
    numbers = found["numbers"]
    assert numbers["against"]["level"] == "1 V"
    assert list(numbers["levels"]) == ["10 V"]
    hz, db = np.array(numbers["levels"]["10 V"]["hz"]), np.array(numbers["levels"]["10 V"]["db"])
    assert numbers["levels"]["10 V"]["rise_db"] == pytest.approx(20)
    assert db[hz < 190] == pytest.approx(-1.5, abs=0.01)
    assert db[hz > 210] == pytest.approx(0.0, abs=0.01)
