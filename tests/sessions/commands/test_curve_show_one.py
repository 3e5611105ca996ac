"""What `curve show --what` prints, and what facts ask: only what belongs to it, in one line where it does not fit."""

from __future__ import annotations

from pathlib import Path

import pytest

from sessions.casebook.store import Casebook
from tests.sessions.measured.measured_files import write_level

from .test_commands import Done, run


def ask(casebook: Casebook, *arguments: object) -> Done:
    return run("--casebook", casebook.folder, *arguments)


@pytest.fixture
def measured(casebook: Casebook, tmp_path: Path) -> Casebook:
    """Sallow and bracken on axis, with an impedance of at least 4.7 ohm and a maker's minimum of 4 ohm."""
    hz = (20, 25, 40, 63, *range(100, 450, 50), 457, *range(500, 20_001, 50))
    (tmp_path / "z.txt").write_text("Hz ohm\n" + "".join(f"{f} {4.7 if f == 457 else 8}\n" for f in hz))
    for name in ("sallow", "bracken"):
        ask(casebook, "curve", "add", name, write_level(tmp_path / "axis.txt", 80))
        ask(casebook, "curve", "add", name, tmp_path / "z.txt")
    ask(casebook, "setup", "fact", "sallow", "minimum impedance", "4 ohm", "--read-in", "sheet")
    return casebook


@pytest.mark.parametrize("what", ["impedance", "facts", "polar"])
def test_a_second_setup_is_never_passed_over(measured: Casebook, what: str) -> None:
    done = ask(measured, "curve", "show", "sallow", "--what", what, "--against", "bracken")
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert f"--against goes with --what response, difference; {what} does not take it" in done.stderr


@pytest.mark.parametrize(
    ("what", "says", "others"),
    [("impedance", "least 4.7 ohm", "the maker states"), ("facts", "the maker states", "direction measured")],
)
def test_one_figure_s_lines_stand_alone(measured: Casebook, what: str, says: str, others: str) -> None:
    told = ask(measured, "curve", "show", "sallow", "--what", what).stdout
    assert (says in told, others in told, "on axis valid" in told) == (True, False, False)
    whole = ask(measured, "curve", "show", "sallow").stdout
    assert (says in whole, others in whole, "on axis valid" in whole) == (True, True, True)


def test_what_lacks_is_said_where_nothing_was_measured(measured: Casebook) -> None:
    told = ask(measured, "curve", "show", "sallow", "--what", "distortion").stdout
    assert told.startswith("'sallow' has no distortion yet")


def test_headphones_get_no_sentence_of_a_loudspeaker(casebook: Casebook, tmp_path: Path) -> None:
    for level in (80, 81):
        ask(casebook, "curve", "add", "sallow", write_level(tmp_path / f"s{level}.txt", level), "--coupler", "ear")
    told = ask(casebook, "curve", "show", "sallow").stdout
    assert told.startswith("sallow: 2 curves, no on-axis curve.\n  mean of 2 ")
    assert ("direction" in told, "below its mean" in told) == (False, False)


def test_a_minimum_that_errs_on_the_safe_side_agrees(measured: Casebook) -> None:
    told = ask(measured, "curve", "show", "sallow", "--what", "facts").stdout
    assert "4.7 ohm at 457 Hz, at least what is stated and so easier on an amplifier: agrees" in told


def test_a_statement_is_taken_back_without_a_source(measured: Casebook) -> None:
    wrong = ask(measured, "setup", "fact", "sallow", "minimum impedence", "--no-longer")
    assert (wrong.returncode, wrong.stderr.count("\n")) == (2, 1)
    assert "did you mean 'minimum impedance'?" in wrong.stderr
    done = ask(measured, "setup", "fact", "sallow", "minimum impedance", "--no-longer")
    assert done.returncode == 0, done.stderr
    assert "no longer states minimum impedance." in done.stdout
    assert ask(measured, "setup", "fact", "sallow").stdout.startswith("Nothing is kept")
    assert ask(measured, "verify").returncode == 0


@pytest.mark.parametrize("what", ["sensitvity", "minimum impedence", "frequency rnage"])
def test_a_misspelt_name_of_a_fact_is_asked_about(casebook: Casebook, what: str) -> None:
    done = ask(casebook, "setup", "fact", "sallow", what, "88 dB 2.83 V/1 m", "--read-in", "sheet")
    assert (done.returncode, "did you mean '" in done.stderr, done.stderr.count("\n")) == (2, True, 1)


@pytest.mark.parametrize("value", ["88", "88 dB", "88 dB 2.83 V", "88 dB at 1 m"])
def test_a_sensitivity_is_stated_with_its_drive_and_distance(casebook: Casebook, value: str) -> None:
    done = ask(casebook, "setup", "fact", "sallow", "sensitivity", value, "--read-in", "sheet")
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert "write it like '88 dB 2.83 V/1 m'" in done.stderr


@pytest.mark.parametrize("value", ["88 dB 2.83 V/1 m", "91 dB/W/m", "88 dB (2.83 V, 1m)"])
def test_a_sensitivity_with_both_is_kept(casebook: Casebook, value: str) -> None:
    assert ask(casebook, "setup", "fact", "sallow", "sensitivity", value, "--read-in", "sheet").returncode == 0
