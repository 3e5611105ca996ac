"""What each meaning of equal would have given: that of a sheet matched so, and told with how far it matters."""

from __future__ import annotations

import io
import json
import sys
from contextlib import redirect_stdout
from dataclasses import replace

import pytest

from audio import prepare
from audio.levels import zwicker
from audio.levels.weighting import BY, ISO_532, By
from sessions.casebook import catalogue, passages
from sessions.casebook.catalogue import Track
from sessions.casebook.store import Casebook
from sessions.commands import loudness_options, match_summary
from sessions.preparation import match_files, match_sheet
from sessions.preparation.match_sheet import Meaning
from sessions.preparation.meanings import document_of, meanings
from sessions.preparation.selection import select
from sessions.report import page as page_of_report
from tests.command_line import earwitness

FAR = (Meaning("bs1770", (0.0, 0.0)), Meaning("a", (0.0, 0.6)))


@pytest.mark.parametrize("by", ["a", "c", "band"])
def test_what_a_meaning_would_have_given_is_what_a_sheet_matched_so_gives(casebook: Casebook, by: By) -> None:
    selection = select(casebook, (), ())
    selection = replace(selection, passages=selection.passages[:1])
    usual, other = (match_files.make_match_sheet(casebook, selection, by=measure) for measure in ("bs1770", by))
    gains = [{own.setup: own.gain_db for own in sheet.passages[0].setups} for sheet in (usual, other)]
    found = meanings(usual)
    assert found is not None
    assert {one.by for one in found.given} == set(BY)
    [given] = [one for one in found.given if one.by == by]
    more = [gains[1][name] - gains[0][name] - (gains[1][found.first] - gains[0][found.first]) for name in found.others]
    assert [low for low, _ in given.gains_db] == pytest.approx(more, abs=0.011)
    assert [high for _, high in given.gains_db] == pytest.approx(more, abs=0.011)
    assert found.most_db >= max(map(abs, more)) - 0.011
    kept = next(match_sheet.newest_first(casebook)).record
    assert meanings(kept) == meanings(other)
    planted = (0.0, 0.0, 0.0), (0.0, 0.18, 0.30), (0.0, -0.46, -0.20)
    measured = tuple(Meaning(by, levels[: len(found.others) + 1]) for by, levels in zip(BY, planted, strict=False))
    far = replace(usual, passages=tuple(replace(part, meanings=measured) for part in usual.passages))
    told = meanings(far)
    assert told is not None
    assert told.most_db == pytest.approx(0.64)  # from 0.18 one way to 0.46 the other
    apart = told.furthest
    assert (apart.setup, apart.against, apart.by) == (told.others[0], told.first, ("c", "a"))
    assert apart.gains_db == pytest.approx((0.46, -0.18))  # softer by a measure is turned up more to be equal in it
    assert document_of(far)["meanings_most_db"] == told.most_db
    bare = replace(usual, passages=tuple(replace(part, meanings=()) for part in usual.passages))
    assert meanings(bare) is None  # as older sheets are


def test_both_methods_of_iso_532_tell_on_other_sheets_what_sheets_matched_so_give(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of setups 3 dB apart: a sheet matched so plays the louder one softer, where the gain is not quite the same."""
    monkeypatch.setattr(prepare, "MOST_PASSES", 1)  # N5 is slow
    track = catalogue.everything(casebook, Track)[0]
    passages.add(casebook, track, 24_000, 48_000, 48_000, "a second")
    selection = select(casebook, (), ("a second",))
    usual = match_files.make_match_sheet(casebook, selection, iso_532=ISO_532)
    found = meanings(usual)
    assert found is not None
    gains = [own.gain_db for own in usual.passages[0].setups]
    for method in ISO_532:
        [given] = [one for one in found.given if one.by.startswith(f"{method}@")]
        sheet = match_files.make_match_sheet(casebook, selection, by=given.by)
        matched = [own.gain_db for own in sheet.passages[0].setups]
        assert sheet.residual_lu < 0.1
        assert matched[1] - matched[0] - (gains[1] - gains[0]) == pytest.approx(given.gains_db[0][0], abs=0.2)
        assert abs(given.gains_db[0][0]) > 2.5
    spl_db = round(75 - min(own.loudness_lufs for own in usual.passages[0].setups))
    assert {one.by for one in found.given} == {*BY, f"zwicker@{spl_db}", f"zwicker-n5@{spl_db}"}


def test_the_row_made_equal_does_not_contradict_the_gains_and_the_furthest_two_are_named(
    casebook: Casebook,
) -> None:
    """By hand: of the planted levels bracken would be turned up 2.5 dB by one measure and down 0.25 by another."""
    sheet = next(match_sheet.newest_first(casebook)).record
    planted = (Meaning("bs1770", (0.0, 0.0)), Meaning("a", (0.0, 0.25)), Meaning("c", (0.0, -2.5)))
    near = (Meaning("bs1770", (0.0, 0.0)), Meaning("a", (0.0, 0.1)), Meaning("c", (0.0, -0.1)))
    parts = [replace(part, meanings=own) for part, own in zip(sheet.passages, (planted, near), strict=False)]
    with redirect_stdout(io.StringIO()) as out:
        match_summary.tell_sheet(replace(sheet, passages=tuple(parts)))
    told = " ".join(out.getvalue().split())
    one, other = (own.setup for own in parts[0].setups)
    assert f"turned up (+) or down (-) from where it is now, against {one}, by passage:" in told
    assert "loudness by ITU-R BS.1770 (made equal here) +0.00" in told
    assert "A-weighted level -0.25 to -0.10" in told
    assert f"The furthest apart in {parts[0].passage}: C-weighted level (+2.50 dB) and A-weighted level (-0.25" in told
    assert f"Between these two {other} is 2.75 dB louder or softer against {one}" in told
    assert "(taken)" not in told
    assert out.getvalue().splitlines()[0] == earwitness(casebook.folder, "match", "show").stdout.splitlines()[0]
    level = tuple(replace(part, meanings=(Meaning("bs1770", (0, 0)), Meaning("a", (0, 0)))) for part in parts)
    with redirect_stdout(io.StringIO()) as out:
        match_summary.tell_sheet(replace(sheet, passages=level))
    assert "it makes no difference which of them is made equal" in " ".join(out.getvalue().split())


def test_loudness_is_told_beside_where_its_library_is_or_somebody_asks(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert not loudness_options.tells_loudness(None)
    assert loudness_options.tells_loudness(True)
    sheet = next(match_sheet.newest_first(casebook)).record
    far = replace(sheet, passages=tuple(replace(part, meanings=FAR) for part in sheet.passages))
    lacking = "not among them: not computed, its extra 'loudness' is not installed"
    for shown, wanted, says in ((far, None, True), (far, False, False), (sheet, None, False)):
        with redirect_stdout(io.StringIO()) as out:
            loudness_options.tell_lacking(replace(shown, tolerance_lu=0.5 if shown is far else 9.0), wanted)
        assert (lacking in out.getvalue()) == says
    monkeypatch.setattr(zwicker, "is_installed", lambda: True)
    assert loudness_options.tells_loudness(None) == ("zwicker",)  # the other one takes forty times as long
    assert loudness_options.tells_loudness(True) == ISO_532
    assert not loudness_options.tells_loudness(False)
    with redirect_stdout(io.StringIO()) as out:
        loudness_options.tell_lacking(replace(far, tolerance_lu=0.5), None)
    assert "exceeded in 5 % of the time, which is slow: add --iso-532" in out.getvalue()


def test_files_are_matched_in_phon_with_the_level_taken_said_and_the_sheet_tells_the_choice(
    casebook: Casebook,
) -> None:
    passage = select(casebook, (), ()).passages[0].name
    told = earwitness(casebook.folder, "match", "files", "--by", "zwicker", "--passage", passage)
    assert told.returncode == 0, told.stderr
    assert "Taken for granted: the loudest passage plays at 75 dB SPL at the chair" in told.stdout
    assert "Matched by loudness by ISO 532-1 (Zwicker, as a steady sound), full scale taken to play at" in told.stdout
    assert "(made equal here)" in told.stdout
    assert "The furthest apart: " in told.stdout  # of one passage: it needs no name
    assert " dB louder or softer against " in told.stdout
    sheet = next(match_sheet.newest_first(casebook)).record
    assert sheet.residual_lu < 0.1
    loudest = min(own.loudness_lufs for own in sheet.passages[0].setups)
    assert sheet.by == f"zwicker@{round(75 - loudest)}"
    again = match_files.match_again(casebook, select(casebook, (), (passage,)), sheet)
    assert again.by == sheet.by
    assert again.passages[0].prepared == sheet.passages[0].prepared


def test_a_level_that_cannot_be_meant_and_a_missing_library_are_refused_in_one_line(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    for arguments, says in [
        (["--chair-level", "75"], "goes with --by zwicker or --iso-532"),
        (["--by", "zwicker-n5", "--chair-level", "39"], "give 40 to 100 dB SPL"),
        (["--by", "zwicker", "--chair-level", "175"], "give 40 to 100 dB SPL"),
        (["--by", "zwicker@loud"], "is not one of"),
    ]:
        told = earwitness(casebook.folder, "match", "files", *arguments)
        assert (told.returncode, told.stderr.count("\n")) == (2, 1)
        assert says in told.stderr
    for name in [name for name in sys.modules if name.split(".")[0] == "mosqito"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "mosqito", None)
    told = earwitness(casebook.folder, "match", "files", "--by", "zwicker", "--json")
    assert (told.returncode, told.stdout) == (2, "")
    assert ".[loudness]" in told.stderr
    made = earwitness(casebook.folder, "match", "files", "--json").stdout
    assert json.loads(made)["by"] == "bs1770"
    assert earwitness(casebook.folder, "match", "show", "--json").stdout == made


def test_the_report_says_how_far_another_meaning_would_have_moved_a_setup(sealed: Casebook) -> None:
    found = meanings(next(match_sheet.newest_first(sealed)).record)
    assert found is not None
    page = sealed.folder / "page.html"
    told = earwitness(sealed.folder, "report", "--out", str(page))
    assert told.returncode == 0, told.stderr
    text = " ".join(page.read_text(encoding="utf-8").split())
    assert "Had equal meant something else (A-weighted level, C-weighted level, the level from 500 to 2000 Hz)" in text
    apart = found.furthest
    assert (
        f"by {found.most_db:.2f} dB at most, {apart.setup} against {apart.against} in {apart.passage}, between" in text
    )
    levels = page_of_report._environment().get_template(page_of_report.LEVELS).make_module({"tables": []})
    sheet = next(match_sheet.newest_first(sealed)).record
    of_noise = " ".join(str(levels.otherwise(replace(sheet, by="mic"), {})).split())  # type: ignore[attr-defined]
    assert of_noise.endswith("All of this is of the pink noise that the microphone heard, not of music.")
    assert "pink noise" not in text
