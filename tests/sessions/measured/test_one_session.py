"""Which curve stands for the axis, and that levels of different sessions are not mixed: planted, and asked for."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured import curve_records, fact_rows, makers_facts
from sessions.measured.conditions import Conditions, Direction
from sessions.measured.curve_records import RawFile
from sessions.measured.curve_summary import summary
from tests.sessions.commands.test_commands import Done, run

from .measured_files import HZ, write_level

CIRCLES = [
    *(Direction("horizontal", angle) for angle in range(-170, 181, 10)),
    *(Direction("vertical", angle) for angle in range(-170, 171, 10) if angle),
]
AT_1_M = Conditions(distance_m=1.0, drive_volts=2.83, spl=True, when="2026-05-02")


def ask(casebook: Casebook, *arguments: object) -> Done:
    return run("--casebook", casebook.folder, *arguments)


def keep(casebook: Casebook, setup: Setup, towards: list[Direction], level_db: float, stated: Conditions) -> None:
    """Flat curves, 1/10 as much down off the axis as they are degrees away from it, all of one file."""
    made = []
    for toward in towards:
        level = level_db - abs(toward.angle) / 10
        made.append(curve_records.NewCurve("response", toward, _flat(level), stated))
    curve_records.keep(casebook, setup, [(RawFile.of("set.txt", f"{level_db} {stated}".encode()), made)])


def _flat(level_db: float) -> np.ndarray:
    return np.stack([HZ, np.full(HZ.shape, level_db)], axis=1)


@pytest.mark.parametrize(
    "member", [("--side", "left"), ("--place", "chair"), ("--coupler", "ear simulator"), ("--role", "woofer")]
)
def test_a_curve_of_one_of_several_never_stands_for_the_axis(
    casebook: Casebook, sallow: Setup, tmp_path: Path, member: tuple[str, str]
) -> None:
    axis = write_level(tmp_path / "axis.txt", 80)
    of_axis = ("--spl", "--distance", 1, "--volts", 2.83)
    kept = json.loads(ask(casebook, "curve", "add", "sallow", axis, *of_axis, "--json").stdout)["curves"][0]
    chair = write_level(tmp_path / "chair.txt", 71)
    other = ("--spl", "--distance", 3, "--volts", 2.83, "--gate", 300)
    for name in ("sallow", "bracken"):
        assert ask(casebook, "curve", "add", name, chair, *other, *member).returncode == 0
    fact_rows.keep(casebook, sallow, "sensitivity", "80 dB 2.83 V/1 m", "sheet")
    [fact] = makers_facts.of_setup(casebook, sallow)
    assert "80.0 dB for 2.83 V at 1 m" in fact.measured
    assert f"({kept}: 1 m, 2.83 V, dB SPL, 20" in fact.measured
    against = ask(casebook, "curve", "show", "sallow", "--against", "bracken")
    assert (against.returncode, against.stderr.count("\n")) == (2, 1)
    assert "'bracken' has no on-axis curve, only others" in against.stderr


def test_other_curves_leave_a_range_open_and_say_so(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    path = write_level(tmp_path / "a.txt", 80)
    ask(casebook, "curve", "add", "sallow", path, "--side", "left")
    fact_rows.keep(casebook, sallow, "range", "40 Hz - 20 kHz ±3 dB", "sheet")
    [fact] = makers_facts.of_setup(casebook, sallow)
    assert fact.outcome == "cannot be told from these data"
    assert "there is no on-axis curve" in fact.measured


@pytest.mark.parametrize(
    "newer",
    [
        Conditions(distance_m=1.0, drive_volts=2.83, when="2026-05-03"),
        Conditions(distance_m=2.0, drive_volts=2.83, spl=True, when="2026-05-02"),
        Conditions(distance_m=1.0, drive_volts=2.83, spl=True, gate_ms=5.0, when="2026-05-02"),
        Conditions(distance_m=1.0, drive_volts=2.83, spl=True, room="barn", when="2026-05-02"),
        AT_1_M,  # and only the level shows that the gain was changed
    ],
)
def test_a_set_is_never_of_two_sessions(
    casebook: Casebook, sallow: Setup, newer: Conditions, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The newer horizontal circle lies 20 dB lower: mixed with older verticals the sound power comes out above it."""
    older = [one for one in CIRCLES if one.plane == "vertical"]
    keep(casebook, sallow, [Direction("horizontal", 0), Direction("horizontal", 30), *older], 100.0, AT_1_M)
    monkeypatch.setattr(casebook, "_clock", lambda: datetime.now(UTC) + timedelta(hours=1))
    keep(casebook, sallow, [one for one in CIRCLES if one.plane == "horizontal"], 80.0, newer)
    found = summary(curve_records.of_setup(casebook, sallow)).directivity
    assert found is not None
    assert "sound power" not in found.curves
    assert found.lacking["floor"] == "needs vertical -20°, vertical -30°, vertical -40°"
    assert "from 36 curves of one session (2026-05-0" in found.session
    assert "36 of other sessions are not mixed in (another " in found.session


def test_the_newest_complete_set_stands_though_the_axis_was_measured_again(casebook: Casebook, sallow: Setup) -> None:
    keep(casebook, sallow, CIRCLES, 90.0, AT_1_M)
    keep(casebook, sallow, CIRCLES, 95.0, AT_1_M)
    keep(casebook, sallow, [Direction("horizontal", 0)], 70.0, Conditions(when="2026-06-01"))
    found = summary(curve_records.of_setup(casebook, sallow)).directivity
    assert found is not None
    assert found.curves["on axis"].at(1000.0) == pytest.approx(95.0)
    assert "sound power" in found.curves
    assert "71 of other sessions are not mixed in" in found.session
    drawn = ask(casebook, "curve", "show", "sallow", "--what", "directivity", "--json")
    assert "not mixed in" in json.loads(drawn.stdout)["numbers"]["session"]


def test_a_set_that_was_continued_alike_is_one(casebook: Casebook, sallow: Setup) -> None:
    half = len(CIRCLES) // 2
    keep(casebook, sallow, CIRCLES[:half], 90.0, AT_1_M)
    keep(casebook, sallow, CIRCLES[half:], 90.0, AT_1_M)
    found = summary(curve_records.of_setup(casebook, sallow)).directivity
    assert found is not None
    assert ("sound power" in found.curves, found.session) == (True, "")


def test_what_falls_towards_the_treble_is_not_said_to_keep_its_balance(casebook: Casebook, sallow: Setup) -> None:
    """Every direction off the axis falls by 1 dB an octave above 300 Hz: the listening window partly, the rest all."""
    fall = np.maximum(np.log2(HZ / 300), 0)
    window = {0: 0.0, 10: 0.0, 20: 0.0, 30: 0.0}
    made = []
    for one in CIRCLES:
        level = 80 - fall * (0.0 if abs(one.angle) in window else 1.0)
        made.append(curve_records.NewCurve("response", one, np.stack([HZ, level], axis=1), AT_1_M))
    curve_records.keep(casebook, sallow, [(RawFile.of("s.txt", b"s"), made)])
    found = summary(curve_records.of_setup(casebook, sallow)).directivity
    assert found is not None
    assert found.balance is not None
    early, listening = (found.curves[name] for name in ("early reflections", "listening window"))
    apart = early.at(HZ) - listening.at(HZ)
    inside = (HZ >= 300) & (HZ <= 10_000)
    line = np.polyfit(np.log2(HZ[inside]), apart[inside], 1)
    assert found.balance.slope_db_per_octave == pytest.approx(line[0], abs=0.02)
    assert found.balance.slope_db_per_octave < -0.3
    assert found.balance.widest_db == pytest.approx(apart[inside][-1], abs=0.1)
    said = ask(casebook, "curve", "show", "sallow").stdout
    assert "keep the direct sound's balance within" not in said
    assert f"{line[0]:+.2f} dB an octave" in said
    assert "after that slope is taken out" in said
