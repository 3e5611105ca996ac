from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured import curve_import, curve_sentences
from sessions.measured.conditions import Conditions
from sessions.measured.curve_import import Reading
from sessions.report import contents, page
from sessions.words import log
from tests.command_line import earwitness
from tests.sessions.commands.test_commands import run

from .measured_files import HZ, write_level


def test_a_comparison_without_curves_says_so_in_one_line(casebook: Casebook, sallow: Setup, bracken: Setup) -> None:
    measured = curve_sentences.measurements_of(casebook, [sallow, bracken])
    assert measured.sentences == [
        "Measured: no curve on axis of sallow and bracken, so nothing to set beside what was heard."
    ]
    assert measured.comparisons == []


def test_curves_that_share_no_band_say_why_they_cannot_be_compared(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    (tmp_path / "bass.txt").write_text("Hz dB\n20 80\n100 80\n")
    for setup, path in ((sallow, tmp_path / "bass.txt"), (bracken, write_level(tmp_path / "axis.txt", 80))):
        curve_import.bring(casebook, setup, path, Reading(), Conditions())
    [sentence] = curve_sentences.measurements_of(casebook, [sallow, bracken]).sentences
    assert sentence.startswith("Measured: sallow and bracken cannot be compared: the band 300 to 3000 Hz lies beyond")


def test_each_curve_s_circumstances_are_said(casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path) -> None:
    stated = Conditions(distance_m=1.0, drive_volts=2.83, gate_ms=6.0, room="barn", by="Ada", when="in March")
    path = write_level(tmp_path / "axis.txt", 80)
    curve_import.bring(casebook, sallow, path, Reading(), stated)
    curve_import.bring(casebook, bracken, path, Reading(), Conditions())
    said = curve_sentences.measurements_of(casebook, [sallow, bracken]).sentences
    assert said[1] == "sallow was measured so: 1 m, 2.83 V, gate 6.0 ms, barn, by Ada, in March."
    assert said[2] == f"bracken was measured so: {casebook.now()[:10]}."
    assert "Measured differently: room: sallow barn, bracken not said." in said


def test_sensitivity_is_said_where_level_drive_and_distance_are_known(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    """80 dB SPL for 1 V at 2 m: 20·lg 2.83 = 9.04 dB and 6.02 dB more for 2.83 V at 1 m."""
    path = write_level(tmp_path / "axis.txt", 80)
    spl = Conditions(distance_m=2.0, drive_volts=1.0, spl=True)
    curve_import.bring(casebook, sallow, path, Reading(), spl)
    curve_import.bring(casebook, bracken, path, Reading(), Conditions(distance_m=2.0, drive_volts=1.0))
    said = curve_sentences.measurements_of(casebook, [sallow, bracken]).sentences
    assert [line for line in said if "ensitivity" in line] == [
        "Sensitivity of sallow: 95.1 dB SPL for 2.83 V at 1 m, the mean from 300 to 3000 Hz."
    ]


def test_curves_stand_beside_the_verdict_and_in_the_report(
    sealed: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    for setup, tilt in ((sallow, 0.0), (bracken, -1.0)):
        path = write_level(tmp_path / "axis.txt", tilt * np.log2(HZ / 1000))
        curve_import.bring(sealed, setup, path, Reading(), Conditions())
    ohm = tmp_path / "ohm.txt"
    hz = (20, 25, 40, 63, *range(100, 20_001, 50))
    ohm.write_text("".join(f"{f} {'4.5 -20' if f == 100 else '9 45'}\n" for f in hz))
    curve_import.bring(sealed, sallow, ohm, Reading("ohm"), Conditions())
    text_of = page.render(contents.gather(sealed, "x"))
    assert "the difference that is easiest to hear lies at" in text_of
    rating = "supports a rating of 5 ohm by 80 %, of the usual ratings 4, 6, 8 it supports 4."
    assert f"Impedance of sallow: at least 4.5 ohm (at 100 Hz), {rating}" in text_of
    assert "There are no measured curves" not in text_of
    assert text_of.count('class="curve"') == 3  # both, their difference, and the impedance
    assert "Impedance of sallow." in text_of
    done = run("--casebook", sealed.folder, "verdict", "evening", "--json")
    measured = json.loads(done.stdout)["plans"][0]["measured"]
    assert measured["compared"][0]["setups"] == ["sallow", "bracken"]


def test_words_stand_on_the_difference_only_where_a_band_is_stated_for_them(
    sealed: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    """Valid from 100 Hz: "deep" (20 to 40 Hz) is not measured, "grainy" has no band; another setup's is not told."""
    for setup, tilt in ((sallow, 0.0), (bracken, -1.0)):
        path = write_level(tmp_path / "axis.txt", tilt * np.log2(HZ / 1000))
        curve_import.bring(sealed, setup, path, Reading(), Conditions(valid_hz=(100, 20_000)))
    ada, other = catalogue.listener_named(sealed, "Ada"), catalogue.add_setup(sealed, "third")
    for term, setup, blind in (
        ("bright", sallow, False), ("bright", sallow, False), ("bright", sallow, True), ("dull", bracken, False),
        ("grainy", bracken, False), ("deep", sallow, False), ("boxy", other, False), ("harsh", None, True),
    ):  # fmt: skip
        log.log(sealed, ada, log.Word(term, 2, blind=blind, setup_id=setup.id if setup else None))
    [part] = contents.gather(sealed, "x").parts
    [shown] = [one for one in part.measured.pictures if one.caption.startswith("The difference")]
    drawn = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", shown.drawn))
    for words in (
        "bright: sallow, sighted, 2 times",
        "dull: bracken, sighted, above 0",
        "above 0: sallow gives more",
        "a hypothesis, not a cause",
    ):
        assert words in drawn, drawn
    assert not any(word in drawn for word in ("grainy", "deep", "boxy", "harsh"))
    assert shown.below == [
        "bright: sallow, sighted, 2 times. The hypothesis: 4000 to 8000 Hz, more "
        "(Holt 1993 glossary, read; others disagree: 6 to 16 kHz (di Gar Kulka 1972, second-hand)); "
        "so the line would lie above 0 there.",
        "bright: sallow, said to be blind. The hypothesis: 4000 to 8000 Hz, more "
        "(Holt 1993 glossary, read; others disagree: 6 to 16 kHz (di Gar Kulka 1972, second-hand)); "
        "so the line would lie above 0 there.",
        "dull: bracken, sighted. The hypothesis: 5000 to 20000 Hz, less "
        "(a roll-off from about 5 kHz: Holt 1993 glossary, read); so the line would lie above 0 there.",
        "Said, with no measurable band stated: grainy: bracken, sighted.",
        "Said, in a band that was not measured validly: deep: sallow, sighted (20 to 40 Hz).",
    ]
    text_of = page.render(contents.gather(sealed, "x"))
    assert "<li>Said, with no measurable band stated: grainy: bracken, sighted.</li>" in text_of


def test_the_largest_difference_in_db_is_not_told_as_the_one_that_is_heard_best(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    """Two decibels in the middle pass their threshold (0.5 dB) four times, three at 50 Hz theirs (1.5 dB) twice."""
    planted = np.where(HZ < 60, 3.0, np.where((HZ > 3500) & (HZ < 4500), 2.0, 0.0))
    curve_import.bring(casebook, sallow, write_level(tmp_path / "a.txt", 80 + planted), Reading(), Conditions())
    curve_import.bring(casebook, bracken, write_level(tmp_path / "b.txt", 80), Reading(), Conditions())
    said = curve_sentences.measurements_of(casebook, [sallow, bracken]).sentences[0]
    heard, in_db = said.split("; the largest difference in dB lies at ")
    assert "the difference that is easiest to hear lies at 4" in heard
    assert "Hz, where sallow gives 2.0 dB more than bracken; about 0.5 dB is enough to be heard there (" in heard
    assert float(in_db.split(" Hz")[0]) < 60
    assert in_db.endswith("sallow gives 3.0 dB more.")


def test_two_curves_are_told_valid_as_far_as_each_alone_is(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    hz = np.geomspace(20, 20_000, 500)
    for setup in (sallow, bracken):
        path = tmp_path / f"{setup.name}.txt"
        path.write_text("Hz dB\n" + "".join(f"{at:.3f} 80\n" for at in hz))
        curve_import.bring(casebook, setup, path, Reading(), Conditions())
    found = curve_sentences.measurements_of(casebook, [sallow, bracken])
    assert found.sentences[0].startswith("Measured on axis, 20 to 20000 Hz, at one level")
    assert found.comparisons[0].to_document()["valid_hz"] == [20, 20_000]
    alone = earwitness(casebook.folder, "curve", "show", "sallow").stdout
    assert "on axis valid from 20 to 20000 Hz" in alone
