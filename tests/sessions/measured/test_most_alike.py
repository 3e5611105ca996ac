"""Which curve stands for the axis beside another: the one measured alike, or it is said which was taken."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured import curve_import, curve_records, curve_sentences, fact_rows, makers_facts
from sessions.measured.conditions import Conditions
from sessions.measured.curve_comparison import compare_setups
from sessions.measured.curve_import import Reading
from sessions.measured.figures.captions import measured_in_words
from sessions.measured.figures.figure import Subject
from sessions.measured.figures.members import drivers
from sessions.measured.most_alike import passed_over
from tests.sessions.commands.test_commands import run

from .measured_files import HZ, write_level

STUDIO = Conditions(distance_m=1.0, drive_volts=2.83, spl=True, gate_ms=20.0, room="studio", when="2026-05-01")
HALL = Conditions(distance_m=3.0, drive_volts=2.83, spl=True, gate_ms=20.0, room="hall", when="2026-06-01")
DIP = np.where((HZ > 500) & (HZ < 2000), -9.0, 0.0)  # of the hall alone


def bring(casebook: Casebook, setup: Setup, folder: Path, level: np.ndarray | float, stated: Conditions) -> str:
    path = write_level(folder / "axis.txt", level)
    return curve_import.bring(casebook, setup, path, Reading(), stated).curves[0].id


@pytest.mark.parametrize(
    "newer",
    [
        HALL,
        Conditions(distance_m=3.0, drive_volts=2.83, spl=True, gate_ms=20.0, room="studio"),
        Conditions(distance_m=1.0, drive_volts=2.83, spl=True, gate_ms=300.0, room="studio"),
        Conditions(),
    ],
)
@pytest.mark.parametrize("turned", [False, True])
def test_of_two_setups_the_curves_measured_alike_are_compared_and_what_was_passed_over_is_said(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path, newer: Conditions, turned: bool
) -> None:
    """Both alike in the studio; the newer one of sallow has a hall's dip of 9 dB, which is no difference of the two."""
    alike = [bring(casebook, one, tmp_path, level, STUDIO) for one, level in ((sallow, 80.0), (bracken, 75.0))]
    bring(casebook, sallow, tmp_path, 80 + DIP, newer)
    both = (bracken, sallow) if turned else (sallow, bracken)
    found = compare_setups(casebook, *both)
    assert found is not None
    assert {one.id for one in found.records} == set(alike)
    assert abs(found.largest[1]) < 0.01
    [said] = found.passed_over
    assert said.startswith(f"sallow: of its 2 curves {alike[0]} was taken (")
    assert "2026-05-01), not the newest; 1 was measured otherwise (" in said
    sentences = curve_sentences.measurements_of(casebook, both).sentences
    assert f"Several on axis: {said}." in sentences
    shown = run("--casebook", casebook.folder, "curve", "show", both[0].name, "--against", both[1].name)
    assert alike[0] in shown.stdout


def test_the_newest_of_curves_measured_alike_are_compared(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    for setup in (sallow, bracken):
        bring(casebook, setup, tmp_path, 80.0, STUDIO)
    newest = [bring(casebook, setup, tmp_path, 80.5, STUDIO) for setup in (sallow, bracken)]
    found = compare_setups(casebook, sallow, bracken)
    assert found is not None
    assert [one.id for one in found.records] == newest
    assert found.passed_over == ()


def test_a_single_curve_on_axis_among_several_says_which_it_is_and_from_when(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    bring(casebook, sallow, tmp_path, 80.0, STUDIO)
    newest = bring(casebook, sallow, tmp_path, 71 + DIP, HALL)
    fact_rows.keep(casebook, sallow, "sensitivity", "80 dB 2.83 V/1 m", "sheet")
    told = f"of its 2 curves {newest} was taken (hall, 3 m, 2026-06-01), the newest; 1 was measured otherwise"
    assert told in run("--casebook", casebook.folder, "curve", "show", "sallow").stdout
    [fact] = makers_facts.of_setup(casebook, sallow)
    assert told in fact.measured
    assert "(studio, 1 m, 2026-05-01)" in fact.measured
    assert told in " ".join(curve_sentences.measurements_of(casebook, [sallow]).sentences)


def test_a_sensitivity_beside_a_comparison_is_read_from_the_curve_compared(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    for setup, level in ((sallow, 80.0), (bracken, 75.0)):
        bring(casebook, setup, tmp_path, level, STUDIO)
    bring(casebook, sallow, tmp_path, 60 + DIP, HALL)
    said = " ".join(curve_sentences.measurements_of(casebook, [sallow, bracken]).sentences)
    assert said.count("Several on axis: sallow") == 1
    assert "Sensitivity of sallow: 80.0 dB SPL" in said


def test_a_pair_is_of_a_left_and_a_right_measured_alike(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    """The right one was measured once more in the hall; left less right is 1 dB in the studio."""
    kept = []
    for side, level, room in (("left", 80.0, "studio"), ("right", 79.0, "studio"), ("right", 70.0, "hall")):
        path = write_level(tmp_path / "a.txt", level)
        stated = ("--spl", "--distance", 1, "--volts", 2.83, "--room", room, "--side", side)
        done = run("--casebook", casebook.folder, "curve", "add", "sallow", path, *stated, "--json")
        kept += json.loads(done.stdout)["curves"]
    shown = run("--casebook", casebook.folder, "curve", "show", "sallow", "--what", "pair", "--json")
    found = json.loads(shown.stdout)["numbers"]
    assert [found[side]["id"] for side in ("left", "right")] == kept[:2]
    assert found["mean_difference_db"] == pytest.approx(1.0, abs=0.01)
    assert any(kept[1] in note for note in found["passed_over"])


def test_drivers_are_those_measured_like_the_newest_of_all(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    kept = []
    for role, room in (("tweeter", "studio"), ("woofer", "studio"), ("tweeter", "hall"), ("woofer", "studio")):
        path = write_level(tmp_path / "a.txt", 80.0)
        stated = ("--spl", "--distance", 1, "--volts", 2.83, "--room", room, "--role", role)
        done = run("--casebook", casebook.folder, "curve", "add", "sallow", path, *stated, "--json")
        kept += json.loads(done.stdout)["curves"]
    measured = curve_records.of_setup(casebook, sallow)
    assert [one.id for _, one in drivers(Subject(measured, 12.0), "drivers")] == [kept[0], kept[3]]


def test_a_figure_says_in_which_room_it_was_measured(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    bring(casebook, sallow, tmp_path, 80.0, STUDIO)
    [hall] = [bring(casebook, sallow, tmp_path, 80.0, HALL)]
    assert "hall" in measured_in_words(curve_records.by_id(casebook, hall))


def test_which_is_the_newest_is_told_of_the_record_however_often_it_is_read(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    bring(casebook, sallow, tmp_path, 80.0, STUDIO)
    newest = curve_records.by_id(casebook, bring(casebook, sallow, tmp_path, 80.0, HALL))
    found = curve_records.of_setup(casebook, sallow).all_on_axis
    assert "2026-06-01), the newest; " in passed_over("sallow", newest, found)
