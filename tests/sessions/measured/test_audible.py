from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from audio.curves.curve import log_grid
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured import curve_sentences
from sessions.measured.audible import threshold_db
from sessions.measured.conditions import ON_AXIS, Conditions
from sessions.measured.curve_comparison import CurveComparison, compare_curves
from sessions.measured.curve_records import CurveRecord
from tests.sessions.commands.test_commands import run

from . import measured_files

HZ = log_grid(20, 20_000)


def test_thresholds_are_the_published_ones_and_nothing_is_judged_above_10_khz() -> None:
    assert threshold_db(np.array([40.0, 100.0, 1000.0, 12_000.0])) == pytest.approx([1.5, 1.0, 0.5, np.inf])


def compared(difference_db: np.ndarray) -> CurveComparison:
    flat = np.zeros(len(HZ))
    records = [
        CurveRecord("c", "s", "m", "response", ON_AXIS, "2026-01-01", Conditions(), np.stack([HZ, level], axis=1))
        for level in (flat + difference_db, flat)
    ]
    return compare_curves(("a", "b"), (records[0], records[1]))


def test_what_differs_most_is_judged_by_what_can_be_heard_and_not_at_20_hz() -> None:
    """Planted: 1.4 dB below 40 Hz, which is not heard, 1.2 dB around 5 kHz, which is, and 3 dB at the very top."""
    planted = np.where(HZ < 35, 1.4, 0.0) + 1.2 * np.exp(-((np.log2(HZ / 5000) / 0.5) ** 2)) + 3.0 * (HZ > 15_000)
    found = compared(planted)
    assert found.audible is not None
    hz, db, least = found.audible
    assert (hz, db, least) == (pytest.approx(5000, rel=0.05), pytest.approx(1.2, abs=0.1), 0.5)


def test_two_that_differ_by_less_than_can_be_heard_are_said_to() -> None:
    assert compared(np.where(HZ < 35, 1.0, 0.0)).audible is None


def test_what_is_judged_does_not_hang_on_how_it_is_drawn() -> None:
    """Planted: 3 dB within 1/100 octave, far narrower than what the thresholds were found for, and 1.2 dB broadly."""
    fine = log_grid(20, 20_000, 480)
    level = 1.2 * np.exp(-((np.log2(fine / 5000) / 0.5) ** 2)) + 3.0 * (abs(np.log2(fine / 1000)) < 0.005)
    records = [
        CurveRecord("c", "s", "m", "response", ON_AXIS, "2026-01-01", Conditions(), np.stack([fine, one], axis=1))
        for one in (level, np.zeros(len(fine)))
    ]
    found = compare_curves(("a", "b"), (records[0], records[1]), smoothing=0.0)
    assert found.largest[0] == pytest.approx(1000, rel=0.01)
    assert found.audible is not None
    assert found.audible[0] == pytest.approx(5000, rel=0.05)


def test_the_command_and_the_report_judge_alike_and_name_the_source(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    """Planted: 1.4 dB below 35 Hz, which is not heard and the largest by size, and 1.2 dB at 5 kHz, which is."""
    hz = measured_files.HZ
    planted = np.where(hz < 35, 1.4, 0.0) + 1.2 * np.exp(-((np.log2(hz / 5000) / 0.5) ** 2))
    for name, level in (("sallow", planted), ("bracken", 0 * hz)):
        path = measured_files.write_level(tmp_path / f"{name}.txt", level)
        assert run("--casebook", casebook.folder, "curve", "add", name, path).returncode == 0
    ask = ("--casebook", casebook.folder, "curve", "show", "sallow", "--against", "bracken")
    done = run(*ask, "--json")
    judged = json.loads(done.stdout)["compared"]["audible"]
    assert judged["most"]["hz"] == pytest.approx(5000, rel=0.05)
    assert (judged["most"]["db"], judged["most"]["threshold_db"]) == (pytest.approx(1.2, abs=0.1), 0.5)
    assert judged["judged_hz"] == [[20.0, 10_000.0]]
    assert "Fielder and Benjamin 1988" in judged["source"]
    [sentence] = [line for line in run(*ask).stdout.splitlines() if "easiest to hear" in line]
    told = curve_sentences.measurements_of(casebook, [sallow, bracken]).sentences[0]
    assert sentence.partition("easiest to hear")[2] == told.partition("easiest to hear")[2]
    assert "Fielder and Benjamin 1988" in sentence


def test_where_no_threshold_is_known_nothing_is_said_to_be_inaudible() -> None:
    records = [
        CurveRecord(
            "c", "s", "m", "response", ON_AXIS, "2026", Conditions(valid_hz=(10_500, 2e4)), np.stack([HZ, one], 1)
        )
        for one in (np.zeros(len(HZ)), np.where(HZ > 15_000, 9.0, 0.0))
    ]
    found = compare_curves(("a", "b"), (records[0], records[1]), band_hz=(11_000, 14_000))
    assert found.judged_hz == []
    assert "no threshold is known" in curve_sentences.most(found)
