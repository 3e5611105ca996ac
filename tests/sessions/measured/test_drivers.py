"""Drivers and their sum, through the command line: planted in the S domain, read back as they were planted."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.clip import Clip
from audio.curves.curve import log_grid
from audio.engine.recording import Recording
from audio.engine.routes import Route
from audio.files import writing
from sessions.casebook import catalogue, playback_chain
from sessions.casebook.store import Casebook, create
from tests.command_line import earwitness
from tests.room import Room, Speaker
from tests.sessions.commands.test_commands import run

HZ = log_grid(20, 20_000, 48)
CROSSOVER_HZ = 2000.0
RATIO = 10 ** (10 / 80)  # two fourth-order slopes are 10 dB apart where (f/f0)^4 is 10 dB
SHARED = ("--spl", "--distance", "1", "--volts", "2.83")


def linkwitz_riley(hz: np.ndarray) -> dict[str, np.ndarray]:
    """Fourth order at 2 kHz: two Butterworth sections of second order each way; the sum is an allpass."""
    s = 1j * hz / CROSSOVER_HZ
    down = 1 / (s**2 + np.sqrt(2) * s + 1) ** 2
    return {"woofer": down, "tweeter": s**4 * down, "sum": down * (1 + s**4)}


def ask(casebook: Casebook, *arguments: object) -> dict[str, Any]:
    done = run("--casebook", casebook.folder, "curve", *arguments, "--json")
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def add(casebook: Casebook, path: Path, response: np.ndarray, *stated: str, hz: np.ndarray = HZ) -> str:
    """A response brought in as text, 80 dB higher; its identifier."""
    rows = [
        f"{f:.6f} {80 + 20 * np.log10(abs(value)):.6f} {np.degrees(np.angle(value)):.5f}"
        for f, value in zip(hz, response, strict=True)
    ]
    path.write_text("Hz dB deg\n" + "\n".join(rows) + "\n")
    return str(ask(casebook, "add", "sallow", path, *stated)["curves"][0])


def test_drivers_add_up_to_their_measured_sum_and_cross_where_they_were_planted(
    casebook: Casebook, tmp_path: Path
) -> None:
    planted = linkwitz_riley(HZ)
    for role, response in planted.items():
        add(casebook, tmp_path / f"{role}.txt", response, "--role", role, *SHARED)
    numbers = ask(casebook, "show", "sallow", "--what", "drivers", "--smooth", 0, "--out", tmp_path / "d.svg")[
        "numbers"
    ]
    assert numbers["absolute"] is True
    assert set(numbers["curves"]) == {"tweeter", "woofer", "sum"}
    assert np.max(np.abs(np.array(numbers["sum"]["db"]) - 80)) < 0.01  # |allpass| = 1
    assert numbers["sum"]["of"] == ["tweeter", "woofer"]
    assert abs(numbers["sum_less_measured"]["largest_db"]) < 0.01
    [crossover] = numbers["crossovers"]
    assert (crossover["from"], crossover["to"]) == ("woofer", "tweeter")
    assert crossover["at_hz"] == pytest.approx(CROSSOVER_HZ, rel=0.002)
    assert crossover["from_hz"] == pytest.approx(CROSSOVER_HZ / RATIO, rel=0.01)
    assert crossover["to_hz"] == pytest.approx(CROSSOVER_HZ * RATIO, rel=0.01)
    drawn = (tmp_path / "d.svg").read_text()
    assert "sum, calculated" in drawn
    assert "dB SPL" in drawn
    # one driver of the drivers is not the loudspeaker's response on axis
    assert ask(casebook, "show", "sallow")["directions"] == []


def test_a_driver_connected_the_wrong_way_round_shows_in_the_calculated_sum(casebook: Casebook, tmp_path: Path) -> None:
    """Reversed, the two cancel at the crossover; the measured sum (as it should be) does not."""
    planted = linkwitz_riley(HZ)
    add(casebook, tmp_path / "w.txt", planted["woofer"], "--role", "woofer", *SHARED)
    add(casebook, tmp_path / "t.txt", -planted["tweeter"], "--role", "tweeter", *SHARED)
    add(casebook, tmp_path / "s.txt", planted["sum"], "--role", "sum", *SHARED)
    less = ask(casebook, "show", "sallow", "--what", "drivers", "--smooth", 0)["numbers"]["sum_less_measured"]
    assert less["largest_hz"] == pytest.approx(CROSSOVER_HZ, rel=0.02)
    assert less["in_crossover_db"] < -30


def test_impulse_responses_are_added_on_one_time_scale(casebook: Casebook, tmp_path: Path) -> None:
    """Two flat drivers, the second 24 samples (0.5 ms) late: a comb with its zeros at odd multiples of 1 kHz."""
    for role, frames in (("woofer", (480,)), ("tweeter", (504,)), ("sum", (480, 504))):
        impulse = np.zeros((9600, 1))
        impulse[list(frames)] = 0.5
        path = tmp_path / f"{role}.wav"
        writing.write(path, Clip(impulse, 48_000), subtype="FLOAT", dither=False)
        ask(
            casebook,
            "add",
            "sallow",
            path,
            "--role",
            role,
            "--gate",
            20,
            "--window",
            "rectangular",
            *SHARED,
            "--spl-is-right",
        )
    numbers = ask(casebook, "show", "sallow", "--what", "drivers", "--smooth", 0)["numbers"]
    hz, db = np.array(numbers["sum"]["hz"]), np.array(numbers["sum"]["db"])
    comb = 20 * np.log10(np.abs(np.cos(np.pi * hz * 0.0005)))
    clear = (comb > -10) & (hz < 4000)  # above it the comb is finer than the numbers
    assert db[clear] == pytest.approx(comb[clear], abs=0.1)
    measured = np.array(numbers["curves"]["sum"]["db"])
    assert db[clear] == pytest.approx(measured[clear], abs=0.1)


def test_drivers_without_a_calibration_in_common_are_not_added(casebook: Casebook, tmp_path: Path) -> None:
    planted = linkwitz_riley(HZ)
    for role in ("woofer", "tweeter"):
        add(casebook, tmp_path / f"{role}.txt", planted[role], "--role", role)
    numbers = ask(casebook, "show", "sallow", "--what", "drivers")["numbers"]
    assert numbers["absolute"] is False
    assert "share no calibration (not all are in dB SPL)" in numbers["no_sum"]
    assert (numbers["crossovers"], "sum" in numbers) == ([], False)
    stated = ask(casebook, "show", "sallow", "--what", "drivers", "--one-calibration")["numbers"]
    assert stated["absolute"] is True
    assert stated["crossovers"][0]["at_hz"] == pytest.approx(CROSSOVER_HZ, rel=0.01)


def test_any_number_of_curves_stands_on_one_set_of_axes(casebook: Casebook, tmp_path: Path) -> None:
    """With dB SPL at one distance and drive as they are, otherwise at one level in the band."""
    flat = np.ones(len(HZ), dtype=complex)
    ids = [add(casebook, tmp_path / f"room {n}.txt", flat * 2**n, *SHARED, "--room", f"room {n}") for n in range(4)]
    with_three = [word for one in ids[:3] for word in ("--with", one)]
    numbers = ask(casebook, "show", "sallow", *with_three, "--out", tmp_path / "four.svg")["numbers"]
    assert numbers["absolute"] is True
    means = {one["id"]: np.mean(one["db"]) for one in numbers["curves"].values()}
    assert [means[one] for one in ids] == pytest.approx([80, 86.02, 92.04, 98.06], abs=0.01)
    other = add(casebook, tmp_path / "e.txt", flat * 16)
    numbers = ask(casebook, "show", "sallow", "--with", ids[0])["numbers"]
    assert "at one level over 300 to 3000 Hz" in numbers["levels"]
    assert [np.mean(one["db"]) for one in numbers["curves"].values()] == pytest.approx([0, 0], abs=0.01)
    assert other in [one["id"] for one in numbers["curves"].values()]
    clash = run("--casebook", casebook.folder, "curve", "show", "sallow", "--with", other, "--against", "bracken")
    assert (clash.returncode, clash.stderr.count("\n")) == (2, 1)


class Both(Room):
    """A loudspeaker with two drivers, one of them 0.25 ms later: what both give together."""

    def record(self, signal: np.ndarray, route: Route, source: Route, rate_hz: int, **how: Any) -> Recording:
        late = Room([Speaker(-20, 3.25)], noise_dbfs=-110).record(signal, route, source, rate_hz, **how)
        found = super().record(signal, route, source, rate_hz, **how)
        return replace(found, samples=found.samples + late.samples)


def test_sweeps_taken_here_are_added_on_one_time_scale(tmp_path: Path) -> None:
    """Two equal drivers 12 samples apart: 6 dB more in the bass, a zero at 2 kHz; as their sweep together shows."""
    book = tmp_path / "book"
    with create(book) as opened:
        catalogue.add_setup(opened, "sallow", "", playback_chain.routed("room:1"))
    early, late, both = (kind([Speaker(-20, ms)], noise_dbfs=-110) for kind, ms in ((Room, 3), (Room, 3.25), (Both, 3)))
    for role, room in (("woofer", early), ("tweeter", late), ("sum", both)):
        done = earwitness(
            book, "curve", "sweep", "sallow", "--mic", "room:1", "--seconds", "1", "--averages", "1", "--gate", "20",
            "--role", role, recorder=room,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
    done = earwitness(
        book, "curve", "show", "sallow", "--what", "drivers", "--one-calibration", "--smooth", "0", "--json"
    )
    numbers = json.loads(done.stdout)["numbers"]
    hz, db = np.array(numbers["sum"]["hz"]), np.array(numbers["sum"]["db"])
    comb = -20 + 20 * np.log10(2 * np.abs(np.cos(np.pi * hz * 0.00025)))
    clear = (hz > 150) & (hz < 5000) & (comb > -24)  # a gate of 20 ms ripples below, with each driver alone too
    assert db[clear] == pytest.approx(comb[clear], abs=0.2)
    measured = np.interp(hz, numbers["curves"]["sum"]["hz"], numbers["curves"]["sum"]["db"])
    assert db[clear] == pytest.approx(measured[clear], abs=0.2)
