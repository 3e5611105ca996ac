"""What makers state beside planted measurements; expected numbers by construction."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.errors import CatalogueError
from sessions.measured import curve_import, fact_rows, makers_facts
from sessions.measured.conditions import Conditions
from sessions.measured.curve_import import Reading
from sessions.measured.makers_facts import AGREES, DIFFERS, OPEN, CheckedFact
from sessions.results import verification
from tests.command_line import earwitness

from .measured_files import HZ, write_level

SHEET = "data sheet, May 2026"


def judged(casebook: Casebook, setup: Setup, what: str, value: str) -> CheckedFact:
    fact_rows.keep(casebook, setup, what, value, SHEET)
    return next(one for one in makers_facts.of_setup(casebook, setup) if one.fact.what == what)


def impedance(casebook: Casebook, setup: Setup, path: Path, low_hz: float = 20.0) -> None:
    """A minimum of 4.5 ohm at 100 Hz, 8 ohm elsewhere."""
    hz = np.array([f for f in (low_hz, *range(30, 1000, 10), *range(1000, 20_001, 100)) if f >= low_hz])
    ohm = np.where(hz == 100, 4.5, 8.0)
    path.write_text("Hz ohm\n" + "".join(f"{f} {z}\n" for f, z in zip(hz, ohm, strict=True)))
    curve_import.bring(casebook, setup, path, Reading(), Conditions())


def test_a_nominal_impedance_asks_for_80_per_cent_of_it(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    assert judged(casebook, sallow, "nominal impedance", "4 ohm").outcome == OPEN
    impedance(casebook, sallow, tmp_path / "z.txt")
    for value, outcome in (("4 ohm", AGREES), ("5 Ω", AGREES), ("6 ohm", DIFFERS), ("8 ohms", DIFFERS)):
        found = judged(casebook, sallow, "nominal impedance", value)
        assert found.outcome == outcome, value
        assert "supports a rating of 5 ohm by 80 %, of the usual ratings 4, 6, 8 it supports 4" in found.measured
    assert "the least is 4.5 ohm at 100 Hz, where a rating of 8 ohm asks for 6.4" in found.measured


def test_an_impedance_measured_in_part_can_only_refute(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    impedance(casebook, sallow, tmp_path / "z.txt", low_hz=80.0)
    found = judged(casebook, sallow, "nominal impedance", "4 ohm")
    assert (found.outcome, "measured from 80 to 20000 Hz only" in found.measured) == (OPEN, True)
    assert judged(casebook, sallow, "nominal impedance", "8 ohm").outcome == DIFFERS
    assert judged(casebook, sallow, "minimum impedance", "4.5 ohm").outcome == OPEN
    assert judged(casebook, sallow, "minimum impedance", "6 ohm").outcome == DIFFERS


@pytest.mark.parametrize(
    ("value", "outcome"), [("4.5 ohm", AGREES), ("4,3 ohm at 90 Hz", AGREES), ("6 ohm", DIFFERS), ("3.2 ohm", AGREES)]
)
def test_a_minimum_is_compared_with_the_least_measured(
    casebook: Casebook, sallow: Setup, tmp_path: Path, value: str, outcome: str
) -> None:
    impedance(casebook, sallow, tmp_path / "z.txt")
    assert judged(casebook, sallow, "minimum impedance", value).outcome == outcome


def test_a_sensitivity_needs_its_voltage_and_a_calibrated_curve(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    """80 dB SPL at 2 m for 2.83 V are 86.02 dB at 1 m; 1 W into 4 ohm is 2 V, 3.01 dB less."""
    path = write_level(tmp_path / "axis.txt", 80)
    curve_import.bring(casebook, sallow, path, Reading(), Conditions(distance_m=2.0, drive_volts=2.83))
    assert judged(casebook, sallow, "sensitivity", "86 dB 2.83 V/1 m").outcome == OPEN
    curve_import.bring(casebook, sallow, path, Reading(), Conditions(distance_m=2.0, drive_volts=2.83, spl=True))
    for value, outcome in (
        ("86 dB 2.83 V/1 m", AGREES), ("86.8 dB (2,83 V / 1 m)", AGREES), ("87.5 dB 2.83 V/1 m", OPEN),
        ("89 dB 2.83 V/1 m", DIFFERS), ("86 dB", OPEN), ("83 dB 1 W/1 m", OPEN), ("80 dB 2.83 V/2 m", AGREES),
    ):  # fmt: skip
        assert judged(casebook, sallow, "sensitivity", value).outcome == outcome, value
    judged(casebook, sallow, "nominal impedance", "4 ohm")
    found = judged(casebook, sallow, "sensitivity", "83 dB 1 W/1 m")
    assert found.outcome == AGREES
    assert "86.0 dB for 2.83 V at 1 m (300 to 3000 Hz), 83.0 dB for 1 W into 4 ohm, 0.0 dB more" in found.measured


@pytest.mark.parametrize(
    ("value", "gate_ms", "outcome", "says"),
    [
        ("80 Hz - 18 kHz ±3 dB", None, AGREES, "where 6 dB are allowed"),  # 12·log2(100/80) = 3.9 dB
        ("50 Hz – 18 kHz ±3 dB", None, DIFFERS, "spans 11."),  # 12 dB, and 11.9 at the first point within
        ("71-18k Hz (-6 dB)", None, OPEN, "at the limit"),  # 5.9 dB
        ("75-18k Hz (-6 dB)", None, AGREES, "below its mean level (at 76 Hz)"),  # 5.0 dB
        ("80 Hz - 22 kHz ±3 dB", None, OPEN, "beyond that nothing is valid"),
        ("80 Hz - 18 kHz ±3 dB", 5.0, OPEN, "from 202 to"),
        ("50 Hz - 18 kHz ±3 dB", 5.0, OPEN, "beyond that nothing is valid"),
        ("80 Hz - 18 kHz +1/-4 dB", None, AGREES, "where 5 dB are allowed"),
        ("80 Hz - 18 kHz", None, OPEN, "without a tolerance"),
        ("20 kHz - 30 kHz ±3 dB", None, OPEN, "nothing in it was measured"),
    ],
)
def test_a_range_holds_within_its_tolerance_as_far_as_is_valid(
    casebook: Casebook, sallow: Setup, tmp_path: Path, value: str, gate_ms: float | None, outcome: str, says: str
) -> None:
    """Flat, and 12 dB an octave down below 100 Hz."""
    path = write_level(tmp_path / "axis.txt", 85 + 12 * np.minimum(np.log2(HZ / 100), 0))
    curve_import.bring(casebook, sallow, path, Reading(), Conditions(gate_ms=gate_ms))
    found = judged(casebook, sallow, "range", value)
    assert (found.outcome, says in found.measured) == (outcome, True), found.measured


def test_a_fact_is_kept_with_where_it_was_read_and_later_ones_stand_for_it(casebook: Casebook, sallow: Setup) -> None:
    with pytest.raises(CatalogueError, match="where it was read"):
        fact_rows.keep(casebook, sallow, "weight", "9 kg", " ")
    with pytest.raises(CatalogueError, match="nothing is kept of the weight"):
        fact_rows.keep(casebook, sallow, "weight", "", SHEET)
    for what, value in (("weight", "9 kg"), ("price", "900"), ("weight", "9.5 kg"), ("price", "")):
        fact_rows.keep(casebook, sallow, what, value, SHEET)
    assert [(one.what, one.value) for one in fact_rows.of_setup(casebook, sallow)] == [("weight", "9.5 kg")]
    assert len(casebook.query("SELECT id FROM facts")) == 4
    assert verification.verify(casebook).ok


def test_facts_stand_beside_curves_verdict_and_report(sealed: Casebook, tmp_path: Path) -> None:
    book = sealed.folder
    for arguments in (
        ["setup", "fact", "sallow", "Impedance", "8 Ω", "--read-in", SHEET],
        ["setup", "fact", "sallow", "weight", "9 kg", "--read-in", "the box"],
    ):
        done = earwitness(book, *arguments)
        assert done.returncode == 0, done.stderr
    path = tmp_path / "z.txt"
    path.write_text("Hz ohm\n20 8\n100 4.5\n20000 12\n")
    assert earwitness(book, "curve", "add", "sallow", str(path)).returncode == 0
    stated = f"the maker states nominal impedance 8 Ω ({SHEET}); the least is 4.5 ohm at 100 Hz"
    shown = earwitness(book, "curve", "show", "sallow", "--what", "facts").stdout
    assert stated in shown
    assert "the maker states weight 9 kg (the box); no curve tells of it" in shown
    numbers = json.loads(earwitness(book, "curve", "show", "sallow", "--what", "facts", "--json").stdout)["numbers"]
    assert [(one["what"], one["outcome"]) for one in numbers["facts"]] == [
        ("nominal impedance", "does not agree"), ("weight", "cannot be told from these data"),
    ]  # fmt: skip
    verdict = earwitness(book, "verdict", "evening", "--json")
    measured = json.loads(verdict.stdout)["plans"][0]["measured"]
    [sentence] = [one for one in measured["sentences"] if "the maker states" in one]
    assert sentence.startswith(f"sallow: {stated}")
    assert sentence.endswith(": does not agree.")
    assert earwitness(book, "report").returncode == 0
    assert "the maker states nominal impedance 8 Ω" in (book / "report.html").read_text(encoding="utf-8")
    listed = earwitness(book, "setup", "fact", "sallow").stdout
    assert "nominal impedance" in listed
    assert "the box" in listed


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (
            ["sallow", "range", "wide", "--read-in", SHEET],
            "'wide' is no range; write it like '45 Hz - 22 kHz ±3 dB', one",
        ),
        (["sallow", "weight", "9 kg"], "--read-in"),
        (["sallow", "weight"], "say the value"),
        (["sallow", "weight", "9 kg", "--no-longer", "--read-in", SHEET], "say the value"),
        (["nobody", "weight", "9 kg", "--read-in", SHEET], "nobody"),
    ],
)
def test_a_fact_that_cannot_be_kept_gets_one_line(casebook: Casebook, arguments: list[str], says: str) -> None:
    done = earwitness(casebook.folder, "setup", "fact", *arguments)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert says in done.stderr
    assert casebook.query("SELECT id FROM facts") == []


def test_the_frequency_of_a_stated_minimum_is_told_with_what_was_measured_there(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    """4.5 ohm at 100 Hz, 8 ohm elsewhere: stated at 90 Hz it is as good as there, at 1.2 kHz it is elsewhere."""
    impedance(casebook, sallow, tmp_path / "z.txt")
    found = judged(casebook, sallow, "minimum impedance", "4.5 ohm at 1.2 kHz")
    assert found.measured.startswith("the least is 4.5 ohm at 100 Hz, not at the 1200 Hz stated, where it is 8.0 ohm")
    assert "of the value alone" in found.measured
    assert "stated" not in judged(casebook, sallow, "minimum impedance", "4.5 ohm at 90 Hz").measured
    beyond = judged(casebook, sallow, "minimum impedance", "4.5 ohm at 30 kHz")
    assert "not at the 30000 Hz stated, where nothing was measured" in beyond.measured
