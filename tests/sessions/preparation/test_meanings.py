"""What each meaning of equal would have given: that of a sheet matched so, and told with how far it matters."""

from __future__ import annotations

import json
import sys
from dataclasses import replace

import pytest

from audio.levels.weighting import BY, By
from sessions.casebook.store import Casebook
from sessions.preparation import match_files, match_sheet
from sessions.preparation.match_sheet import Meaning
from sessions.preparation.meanings import document_of, meanings
from sessions.preparation.selection import select
from tests.command_line import earwitness


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
    assert document_of(far)["meanings_most_db"] == told.most_db
    bare = replace(usual, passages=tuple(replace(part, meanings=()) for part in usual.passages))
    assert meanings(bare) is None  # as older sheets are


def test_files_are_matched_in_phon_with_the_level_taken_said_and_the_sheet_tells_the_choice(
    casebook: Casebook,
) -> None:
    passage = select(casebook, (), ()).passages[0].name
    told = earwitness(casebook.folder, "match", "files", "--by", "zwicker", "--passage", passage)
    assert told.returncode == 0, told.stderr
    assert "Taken for granted: the loudest passage plays at 75 dB SPL at the chair" in told.stdout
    assert "Matched by loudness by ISO 532-1 (Zwicker, steady sounds), full scale taken to play at" in told.stdout
    assert "So the choice moves a setup against another by" in told.stdout
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
        (["--chair-level", "75"], "goes with --by zwicker"),
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
    assert json.loads(earwitness(casebook.folder, "match", "files", "--json").stdout)["by"] == "bs1770"


def test_the_report_says_how_far_another_meaning_would_have_moved_a_setup(sealed: Casebook) -> None:
    found = meanings(next(match_sheet.newest_first(sealed)).record)
    assert found is not None
    page = sealed.folder / "page.html"
    told = earwitness(sealed.folder, "report", "--out", str(page))
    assert told.returncode == 0, told.stderr
    text = " ".join(page.read_text(encoding="utf-8").split())
    assert "Had equal meant something else (A-weighted level, C-weighted level, the level from 500 to 2000 Hz)" in text
    assert f"against another by {found.most_db:.2f} dB at most, from one meaning to another" in text
