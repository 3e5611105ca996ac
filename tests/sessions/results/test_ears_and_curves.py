"""Beside a verdict: that what was measured to differ lies above the tones that the plan's listener noticed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured.curve_comparison import CurveComparison, compare_setups
from sessions.results import ears_and_curves
from tests.answered_plans import answer_trials, sealed_plan
from tests.command_line import earwitness
from tests.sessions.commands.test_hearing import kept_run


def measured(casebook: Casebook, folder: Path, from_hz: int, to_hz: int = 20_500) -> CurveComparison:
    """Both on axis: alike but for 3 dB between two frequencies."""
    for name, lift_db in (("sallow", 3.0), ("bracken", 0.0)):
        file = folder / f"{name} {from_hz}.txt"
        rows = [f"{hz} {lift_db if from_hz <= hz < to_hz else 0}" for hz in range(50, 20_500, 10)]
        file.write_text("Hz dB\n" + "\n".join(rows), encoding="utf-8")
        assert earwitness(casebook.folder, "curve", "add", name, str(file)).returncode == 0
    found = compare_setups(casebook, *(catalogue.find(casebook, Setup, name) for name in ("sallow", "bracken")))
    assert found is not None
    return found


@pytest.mark.parametrize(("from_hz", "to_hz"), [(16_000, 20_500), (3000, 6000)])
def test_where_they_begin_to_differ_is_where_the_difference_was_planted(
    casebook: Casebook, tmp_path: Path, from_hz: int, to_hz: int
) -> None:
    """Smoothing spreads an edge by some tenths of an octave."""
    found = measured(casebook, tmp_path, from_hz, to_hz).differs_from_hz
    assert found is not None
    assert 0.85 * from_hz < found <= 1.05 * from_hz


def test_a_verdict_remarks_it_and_stays_and_a_difference_below_gets_none(casebook: Casebook, tmp_path: Path) -> None:
    plan = sealed_plan(casebook, method="abx", trials=8)
    answer_trials(casebook, right=4, wrong=4)  # as guessing goes on average; guesses are all right now and then
    high = measured(casebook, tmp_path, 16_000)
    assert ears_and_curves.of_plan(casebook, plan, [high]) == []  # nobody looked
    kept_run(casebook, ends_hz=11_500)
    [told] = ears_and_curves.of_plan(casebook, plan, [high])
    assert told.startswith("Ada's own check of 2")
    assert "; the measured difference between sallow and bracken, from 1" in told
    assert told.endswith(" kHz up, begins above it.")
    [shown] = json.loads(earwitness(casebook.folder, "verdict", "evening", "--json").stdout)["plans"]
    assert told in shown["measured"]["sentences"]
    assert shown["verdict"] == "not shown"
    page = tmp_path / "report.html"
    assert earwitness(casebook.folder, "report", "--out", str(page)).returncode == 0
    assert "the measured difference between sallow and bracken, from 1" in page.read_text(encoding="utf-8")
    for from_hz, to_hz in ((12_500, 20_500), (3000, 6000)):  # at about where it ended, and below
        assert ears_and_curves.of_plan(casebook, plan, [measured(casebook, tmp_path, from_hz, to_hz)]) == []
