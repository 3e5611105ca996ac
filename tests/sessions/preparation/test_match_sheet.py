"""The match sheet as a record: what is kept is what was read, whatever the setups are called by now."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import sqlite3
from pathlib import Path

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import reading, writing
from demo_tracks import tracks
from sessions.casebook import catalogue, passages
from sessions.casebook.catalogue import Track
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.commands import match_summary
from sessions.preparation import match_files, match_sheet, recording_folder
from sessions.preparation.match_sheet import MatchedPassage, MatchedSetup, MatchSheet, PreparedFile, PreparedPassage
from sessions.preparation.passage_audio import NO_MEND
from sessions.preparation.selection import select
from tests import families
from tests.real_gear import match_volts

BEFORE = Path(__file__).parents[2] / "data" / "before-rooms"
BEFORE_CASEBOOKS = sorted(BEFORE.rglob("casebook.db"))


def kept_text(casebook: Casebook) -> str:
    return str(casebook.query("SELECT document FROM match_sheets ORDER BY seq DESC")[0]["document"])


def test_a_sheet_of_recordings_has_exactly_its_keys(casebook: Casebook) -> None:
    document = json.loads(kept_text(casebook))
    assert list(document) == ["ok", "tolerance_lu", "residual_lu", "by", "balance_db", "passages"]
    assert list(document["passages"][0]) == [
        "passage", "residual_lu", "channel_residual_lu", "uncertainty_lu", "pairs", "setups", "prepared",
        "balances", "meanings", "balance_db",
    ]  # fmt: skip
    assert list(document["passages"][0]["setups"][0]) == [
        "setup", "loudness_lufs", "gain_db", "after_lufs", "true_peak_dbtp", "level_db", "after_level_db",
        "channel_after_db", "id", "channel_gains_db",
    ]  # fmt: skip
    assert list(document["passages"][0]["prepared"]["setups"][0]) == ["setup", "source", "mend", "file", "sha256"]


def test_a_sheet_of_real_gear_has_exactly_its_keys(routed: Casebook) -> None:
    sheet = match_volts(routed)
    document = json.loads(kept_text(routed))
    assert document == json.loads(json.dumps(sheet.to_document()))
    assert list(document) == [
        "ok", "tolerance_lu", "residual_lu", "by", "weighting", "setups", "passages", "evidence", "readings",
    ]  # fmt: skip
    assert list(document["evidence"]) == ["volts", "volts_after", "response_db", "response_limit_db"]
    assert list(document["readings"]) == ["rate_hz", "levels", "gains", "pairs", "sensitivities"]
    assert list(document["passages"][0]["setups"][0])[-2:] == ["chair_dba", "id"]


def test_what_is_read_is_what_was_written(routed: Casebook) -> None:
    sheet = match_volts(routed)
    assert match_sheet.from_text(kept_text(routed)) == sheet


def test_a_setup_is_found_by_its_identifier_whatever_it_is_called_by_now(routed: Casebook) -> None:
    match_volts(routed)
    before = select(routed, [], [])
    routed.db.execute("UPDATE setups SET name = 'willow' WHERE name = 'sallow'")
    kept = match_sheet.newest(routed, select(routed, [], []))
    assert kept is not None
    assert kept.record.name_of(before.setups[0].id) == "sallow"
    assert kept.record.trim_of(before.setups[0].id) == pytest.approx(-1.938, abs=1e-3)
    assert kept.record.passages[0].left_between([setup.id for setup in before.setups])[0] == kept.record.residual_lu


def test_the_newest_sheet_that_covers_the_selection_counts(casebook: Casebook) -> None:
    whole = select(casebook, [], [])
    kept = match_sheet.newest(casebook, whole)
    assert kept is not None
    one = MatchSheet("a", 0.1, kept.record.passages[:1])
    newer = match_sheet.keep(casebook, one)
    assert match_sheet.newest(casebook, whole) == kept
    alone = select(casebook, [], [kept.record.passages[0].passage])
    assert match_sheet.newest(casebook, alone) == newer
    assert match_sheet.of_hash(casebook, newer.hash) == one
    assert match_sheet.of_hash(casebook, "none") is None


def test_the_residual_of_a_sheet_is_that_of_its_worst_passage() -> None:
    def passage(residual_lu: float) -> MatchedPassage:
        levels = [MatchedSetup(name, 0, 0, 0, 0, 0, level, (), id=name) for name, level in (("a", 0), ("b", 1))]
        files = tuple(PreparedFile(name, "", NO_MEND, "", "") for name in "ab")
        return MatchedPassage("p", residual_lu, 0.0, 0.04, (), tuple(levels), PreparedPassage("p", 48_000, 1, files))

    sheet = MatchSheet("bs1770", 0.1, (passage(0.02), passage(0.1), passage(0.0)))
    assert (sheet.residual_lu, sheet.ok) == (0.1, True)
    assert MatchSheet("bs1770", 0.1, (passage(0.1001),)).ok is False


def test_there_are_casebooks_of_the_version_before() -> None:
    assert len(BEFORE_CASEBOOKS) == 3


@pytest.mark.parametrize("file", BEFORE_CASEBOOKS, ids=lambda file: file.parent.name)
def test_every_sheet_of_the_version_before_is_read_whole(file: Path, tmp_path: Path) -> None:
    shutil.copy(file, tmp_path)
    with sqlite3.connect(file) as connection:
        kept = [json.loads(row[0]) for row in connection.execute("SELECT document FROM match_sheets ORDER BY seq DESC")]
    connection.close()
    with open_casebook(tmp_path) as book:
        for stated, sheet in zip(kept, match_sheet.newest_first(book), strict=True):
            document = json.loads(json.dumps(sheet.record.to_document()))
            for part in document["passages"]:
                for own, prepared in zip(part["setups"], part["prepared"]["setups"], strict=True):
                    assert own.pop("id") == prepared["setup"]  # only newer sheets state it here
                    assert prepared["mend"].pop("high_pass_hz") is None  # nor this
            assert document == stated
            assert json.dumps(document) == json.dumps(stated)  # in the same order, too


def matched(folder: Path, even: Clip, other: Clip) -> MatchSheet:
    """The sheet of two recordings of one passage."""
    with create(folder / "book") as casebook:
        for place, (name, clip) in enumerate((("even", even), ("leant", other))):
            (folder / name).mkdir()
            writing.write(folder / name / "strings.flac", clip, seed=place)
            recording_folder.add_folder(casebook, catalogue.add_setup(casebook, name), folder / name)
        (track,) = catalogue.everything(casebook, Track)
        passages.add(casebook, track, 0, even.frames, even.rate_hz, "strings 1")
        sheet = match_files.make_match_sheet(casebook, select(casebook, [], []))
        kept = match_sheet.newest(casebook, select(casebook, [], []))
    assert kept is not None
    assert kept.record == sheet
    return sheet


def leant(played: Clip, lower_db: float) -> Clip:
    return Clip(played.samples * np.array([1.0, 10 ** (-lower_db / 20)]), played.rate_hz)


@pytest.mark.parametrize(("lower_db", "ok"), [(0.45, True), (0.55, False)])
def test_a_channel_lower_in_one_setup_makes_the_match_not_ok(tmp_path: Path, lower_db: float, ok: bool) -> None:
    """The limit is 0.5 dB; the loudness is matched all the same."""
    played = reading.read(tracks.path("strings"), 0, 96_000)
    sheet = matched(tmp_path, played, leant(played, lower_db))
    assert sheet.residual_lu < 0.01
    assert sheet.balance_db == pytest.approx(lower_db, abs=0.01)
    document = sheet.to_document()
    (passage,) = document["passages"]
    assert document["balance_db"] == passage["balance_db"] == sheet.balance_db
    even, leaning = (own["channel_gains_db"] for own in passage["setups"])
    assert even == [0, 0]
    assert leaning[0] - leaning[1] == pytest.approx(lower_db, abs=0.01)
    assert sheet.ok == ok


def test_the_balance_of_exchanged_channels_is_read_of_them_put_right(tmp_path: Path) -> None:
    """It was said to be hidden by a room that there is none of."""
    played = reading.read(tracks.path("strings"), 0, 192_000)
    exchanged = Clip(leant(played, 0.3).samples[:, ::-1], played.rate_hz)
    sheet = matched(tmp_path, played, exchanged)
    assert sheet.balance_db == pytest.approx(0.3, abs=0.02)
    assert not any("(a room?)" in line for line in lines_of(sheet))


def test_a_balance_that_a_room_hides_is_not_judged_and_no_zero(tmp_path: Path) -> None:
    """The right channel is 1 dB lower; in the room its bands are some 2 dB apart from the left's at random."""
    played = reading.read(tracks.path("strings"), 0, 192_000)
    lower = leant(played, 1.0)
    room = families.room(np.random.default_rng(3), lower.samples, 0.3, 6.0, played.rate_hz)
    sheet = matched(tmp_path, played, Clip(0.5 * room[: played.frames], played.rate_hz))
    document = json.loads(json.dumps(sheet.to_document()))
    assert document["balance_db"] is document["passages"][0]["balance_db"] is None
    (pair,) = document["passages"][0]["balances"]
    assert pair["setups"] == ["even", "leant"]
    assert pair["balance_db"] is None
    assert 0.7 < pair["hides_db"] < 4.0
    even, other = (own["channel_after_db"] for own in document["passages"][0]["setups"])
    assert pair["loudness_db"] == pytest.approx(abs((other[0] - even[0]) - (other[1] - even[1])))
    assert sheet.ok
    with create(tmp_path / "other") as casebook:  # what is kept is what was read
        match_sheet.keep(casebook, sheet)
        assert [kept.record for kept in match_sheet.newest_first(casebook)] == [sheet]
    hides, loud = f"{pair['hides_db']:.1f}", f"{pair['loudness_db']:.2f}"
    assert [line for line in lines_of(sheet) if "balance" in line] == [
        "  The balance of the channels could not be judged: what lies between even and leant in strings 1 (a room?) "
        f"hides a difference of less than {hides} dB. The loudness of the channels differs by {loud} dB, which may be "
        "the room's or the setups'."
    ]


def lines_of(sheet: MatchSheet) -> list[str]:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        match_summary.tell_sheet(sheet)
    return out.getvalue().splitlines()
