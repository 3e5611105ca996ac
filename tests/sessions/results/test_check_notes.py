"""What a giveaway check could not judge stands wherever its plan is told: not only where the check was made."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import reading, writing
from audio.giveaways import noise
from demo_tracks import tracks
from sessions.casebook import catalogue, passages
from sessions.casebook.catalogue import Track
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.plans import check_notes, drafting, seals
from sessions.plans.plan_rows import Wish
from sessions.preparation import giveaway_check, match_files, recording_folder
from sessions.preparation.selection import select
from tests import families
from tests.answered_plans import answer_all
from tests.command_line import earwitness

UNJUDGED = "could not be judged"
BALANCE = "The balance of the channels could not be judged: "
LENGTH_S = 4.0


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two folders of a recording: dry, and in a room that hides that its right channel is 1 dB lower."""
    home = tmp_path_factory.mktemp("rooms")
    whole = reading.read(tracks.path("strings"))
    dry = whole.samples[: round(LENGTH_S * whole.rate_hz)]
    lower = dry * np.array([1.0, 10 ** (-1 / 20)])
    room = families.room(np.random.default_rng(3), lower, 0.3, 6.0, whole.rate_hz)
    for name, samples in (("dry", dry), ("room", 0.5 * room)):
        (home / name).mkdir()
        writing.write(home / name / "strings.flac", Clip(samples, whole.rate_hz), seed=1)
    return home


@pytest.fixture(scope="module")
def checked(folders: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook with these two, matched and checked."""
    folder = tmp_path_factory.mktemp("checked") / "book"
    with create(folder) as casebook:
        for name in ("dry", "room"):
            recording_folder.add_folder(casebook, catalogue.add_setup(casebook, name), folders / name)
        (track,) = catalogue.everything(casebook, Track)
        passages.add(casebook, track, 0, round(LENGTH_S * 48_000), 48_000, "strings 1")
        selection = select(casebook, [], [])
        match_files.make_match_sheet(casebook, selection)
        assert giveaway_check.check(casebook, selection).ok
    return folder


@pytest.fixture(scope="module")
def over(checked: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same with a plan that was heard to the end."""
    folder = tmp_path_factory.mktemp("over") / "book"
    shutil.copytree(checked, folder)
    with open_casebook(folder) as casebook:
        drafting.draft(casebook, Wish("abx", ("dry", "room"), listeners=("Ada",), trials=8), "evening")
        seals.seal(casebook, "evening")
        answer_all(casebook, 0.0)
    return folder


def words_of(folder: Path, *command: str) -> str:
    done = earwitness(folder, *command)
    assert done.returncode == 0, done
    return done.stdout


def test_the_seal_states_that_the_balance_was_not_judged(over: Path) -> None:
    match = json.loads(words_of(over, "plan", "show", "evening", "--json"))["match"]
    assert match["balance"] == "not judged"
    assert "balance_db" not in match
    assert float(match["balance_hides_db"]) > 0.5


def test_the_notes_of_the_check_stand_with_status_plan_and_verdict(over: Path) -> None:
    note = "strings 1: between dry and room width, a balance less than "
    stands = words_of(over, "status")
    assert f"  note  {note}" in stands
    assert "matched; balance not judged" in stands
    assert "none found; see note" in stands
    for said in (words_of(over, "plan", "show", "evening"), words_of(over, "verdict", "evening")):
        assert f"  Noted by the giveaway check: {note}" in said
        assert f"  {BALANCE}" in said
        assert "differs by 0.00" not in said
    (document,) = json.loads(words_of(over, "verdict", "--json"))["plans"]
    assert document["verdict"] != "void"
    assert document["balance"].startswith(BALANCE)
    assert document["check_notes"][0].startswith(note)
    (passage,) = json.loads(words_of(over, "status", "--json"))["passages"]
    assert passage["notes"] == document["check_notes"]


def test_the_report_says_what_was_not_judged_and_claims_no_more(over: Path) -> None:
    words_of(over, "report")
    page = (over / "report.html").read_text(encoding="utf-8")
    assert "nothing beyond its limit, of what could be judged." in page
    assert "all but the sound under test" not in page
    verdict, rest = page.split("What was compared", 1)
    section, limits = rest.split("What could not be shown", 1)
    for part in (verdict, section, limits):
        assert BALANCE in part
        assert "strings 1: between dry and room width, a balance less than " in part


def test_what_a_check_notes_is_of_what_it_compared_and_steady_noise_is_compared_once(
    checked: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[int] = []
    compare = noise._compare

    def counted(*clips: Clip) -> object:
        begun.append(1)
        return compare(*clips)

    monkeypatch.setattr(noise, "_compare", counted)
    monkeypatch.setattr(noise, "_KEPT", {})
    with open_casebook(checked) as casebook:
        done = giveaway_check.check(casebook, select(casebook, [], []))
    assert any("steady noise fainter than" in note.what for note in done.notes)
    assert len(begun) == 1


def test_a_clean_comparison_has_no_notes(sealed: Casebook) -> None:
    plan = seals.sealed_plan(sealed, "evening").plan
    assert check_notes.sentences(sealed, plan) == []
    assert UNJUDGED not in words_of(sealed.folder, "status")


def test_compare_tells_what_was_not_judged(folders: Path, tmp_path: Path) -> None:
    arguments = ("compare", str(folders / "dry"), str(folders / "room"), "--trials", "8", "--yes", "--no-listen")
    told = earwitness(tmp_path / "book", *arguments)
    assert told.returncode == 0, told
    assert "note  strings 1: between dry and room width, a balance less than " in told.stdout
    assert BALANCE in told.stdout


def test_notes_are_found_after_what_they_name_was_renamed(checked: Path, tmp_path: Path) -> None:
    book = tmp_path / "book"
    shutil.copytree(checked, book)
    words_of(book, "rename", "setup", "dry", "arid")
    words_of(book, "rename", "passage", "strings 1", "opening")
    assert "none found; see note" in words_of(book, "status")
    said = words_of(book, "plan", "abx", "--setup", "arid", "--setup", "room", "--trials", "8", "--listener", "Ada")
    assert "  Noted by the giveaway check: strings 1: between dry and room width, " in said
