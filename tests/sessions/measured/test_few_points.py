"""Few points are called so, with how many an octave, and what lies between them is not judged."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from audio.curves import gaps
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured import curve_records, curve_sentences, fact_rows, makers_facts
from tests.sessions.commands.test_commands import Done, run

from .measured_files import text, write_level

FEW = np.geomspace(20, 20_000, 8)  # 7 steps over lg 1000 / lg 2 = 9.97 octaves: 0.7 an octave
STATED = ("--spl", "--distance", 1, "--volts", 2.83)


def ask(casebook: Casebook, *arguments: object) -> Done:
    done = run("--casebook", casebook.folder, "curve", *arguments)
    assert done.returncode == 0, done.stderr
    return done


def few(folder: Path, hz: np.ndarray = FEW) -> Path:
    (folder / "few.txt").write_text(text(np.full(len(hz), 80.0), hz))
    return folder / "few.txt"


def test_a_handful_of_points_is_said_when_it_is_added_and_shown(casebook: Casebook, tmp_path: Path) -> None:
    added = ask(casebook, "add", "sallow", few(tmp_path), *STATED)
    assert "8 points only, 0.7 an octave" in added.stdout + added.stderr
    shown = ask(casebook, "show", "sallow").stdout
    assert "8 points only, 0.7 an octave" in shown
    assert "sensitivity" not in shown
    assert "below its mean" not in shown


def test_nothing_is_judged_by_a_handful_of_points(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    ask(casebook, "add", "sallow", few(tmp_path), *STATED)
    ask(casebook, "add", "bracken", write_level(tmp_path / "a.txt", 80), *STATED)
    said = " ".join(curve_sentences.measurements_of(casebook, [sallow, bracken]).sentences)
    assert "sallow and bracken cannot be compared: 8 points only, 0.7 an octave" in said
    assert "Sensitivity of bracken" in said
    assert "Sensitivity of sallow" not in said
    for what, value in (("sensitivity", "80 dB 2.83 V/1 m"), ("range", "40 Hz - 18 kHz ±3 dB")):
        fact_rows.keep(casebook, sallow, what, value, "sheet")
    for fact in makers_facts.of_setup(casebook, sallow):
        assert fact.outcome == "cannot be told from these data"
        assert "8 points only, 0.7 an octave" in fact.measured


def test_a_handful_of_points_is_exported_and_drawn_as_points(casebook: Casebook, tmp_path: Path) -> None:
    ask(casebook, "add", "sallow", few(tmp_path))
    for more in ((), ("--smooth", 12)):
        rows = [line for line in ask(casebook, "export", "sallow", *more).stdout.splitlines() if line[0] != "#"]
        assert len(rows) == 8
    ask(casebook, "show", "sallow", "--out", tmp_path / "few.svg")
    drawn = (tmp_path / "few.svg").read_text()
    assert drawn.count("<use") > 8  # a mark a point


@pytest.mark.parametrize(("per_octave", "sparse"), [(1, True), (3, False), (24, False)])
def test_third_octaves_are_a_curve_and_octaves_a_handful(per_octave: int, sparse: bool) -> None:
    hz = 31.5 * 2 ** (np.arange(9 * per_octave + 1) / per_octave)
    assert gaps.is_sparse(hz) is sparse
    assert len(gaps.gaps_of(hz)) == 0


def test_two_ends_of_a_joined_run_of_gaps_are_told_as_one() -> None:
    found = tuple(zip((20.0, 40.0, 80.0), (40.0, 80.0, 160.0), strict=True))
    assert gaps.in_words(found) == "4 points only, 1 an octave, from 20 to 160 Hz: what lies between them is not known"


def test_the_record_of_few_points_is_kept_whole(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    ask(casebook, "add", "sallow", few(tmp_path))
    kept = curve_records.of_setup(casebook, sallow).on_axis
    assert kept is not None
    assert len(kept.hz) == 8


def test_angles_of_a_handful_of_points_give_no_slope_and_no_traceback(casebook: Casebook, tmp_path: Path) -> None:
    (tmp_path / "set").mkdir()
    for plane in ("hor", "ver"):
        for angle in range(-170, 181, 10):
            level = 80 - abs(angle) / 10
            (tmp_path / "set" / f"{plane} {angle}.txt").write_text(text(np.full(len(FEW), level), FEW))
    ask(casebook, "add", "sallow", tmp_path / "set", *STATED)
    shown = run("--casebook", casebook.folder, "curve", "show", "sallow", "--what", "directivity")
    assert (shown.returncode, shown.stderr.count("\n")) == (2, 1)
    assert "too little is measured between 300 and 10000 Hz" in shown.stderr
    told = ask(casebook, "show", "sallow").stdout
    assert "in-room estimate:" not in told


def test_two_points_are_called_two_points(casebook: Casebook, tmp_path: Path) -> None:
    ask(casebook, "add", "sallow", few(tmp_path, np.array([20.0, 20_000])))
    shown = ask(casebook, "show", "sallow").stdout
    assert "2 points only, 0.1 an octave, from 20 to 20000 Hz" in shown
    assert "nothing was measured" not in shown
