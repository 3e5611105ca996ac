"""Nobody is locked out of a casebook while it computes, hashes or reads audio; what it then keeps is all or nothing."""

from __future__ import annotations

import io
import shutil
import sqlite3
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from audio import parallel
from audio.files import reading
from audio.mend import Mend
from demo_tracks import tracks
from sessions.casebook.store import FILE_NAME, Casebook, create, open_casebook
from sessions.commands.main import main
from sessions.errors import CasebookError
from sessions.plans import two_folders
from sessions.plans.plan_rows import Wish
from sessions.preparation import giveaway_check, mends, recording_folder
from sessions.preparation.selection import select

CATALOGUE = ("setups", "tracks", "recordings", "sources", "passages", "mends", "match_sheets", "checks", "drafts")


def counts(folder: Path) -> dict[str, int]:
    with open_casebook(folder) as casebook:
        return {name: len(casebook.query(f"SELECT 1 FROM {name}")) for name in CATALOGUE}


@pytest.fixture
def watched(monkeypatch: pytest.MonkeyPatch) -> Callable[[Path], list[str]]:
    """Lets another program write to a casebook whenever audio is read or hashed; gives the list of those moments."""
    monkeypatch.delenv("EARWITNESS_CASEBOOK", raising=False)
    monkeypatch.setattr(sys, "stdin", io.StringIO())

    def watch(folder: Path) -> list[str]:
        moments: list[str] = []

        def watching(name: str) -> None:
            whole = getattr(reading, name)

            def with_another_writer(*arguments: Any, **more: Any) -> Any:
                other = sqlite3.connect(folder / FILE_NAME, timeout=0, isolation_level=None)
                other.execute("BEGIN IMMEDIATE")  # "database is locked" where a transaction is held
                other.execute("ROLLBACK")
                other.close()
                moments.append(name)
                return whole(*arguments, **more)

            monkeypatch.setattr(reading, name, with_another_writer)

        for name in ("inspect", "read", "sha256"):
            watching(name)
        return moments

    return watch


def earwitness(folder: Path, *arguments: object) -> None:
    with pytest.raises(SystemExit) as left:
        main(["--casebook", str(folder), *map(str, arguments)])
    assert left.value.code == 0


def test_adding_files_and_passages_lets_others_write(
    rendered: Path, tmp_path: Path, watched: Callable[[Path], list[str]]
) -> None:
    book = tmp_path / "book"
    create(book).close()
    moments = watched(book)
    sallow, bracken = rendered / "sallow", rendered / "bracken"
    for command in (
        ("setup", "add", "sallow", "--from", sallow),
        ("track", "music", sallow),
        ("track", "add", "voice", "--file", f"sallow={bracken / 'drums.flac'}", "--music", tracks.path("voice")),
        ("setup", "add", "bracken", "--from", bracken),
        ("passage", "suggest", "drums", "--add"),
        ("passage", "add", "strings", "--from", "0.5", "--to", "3"),
    ):
        before = len(moments)
        earwitness(book, *command)
        assert len(moments) > before, command


def test_matching_checking_and_mending_lets_others_write(
    casebook: Casebook, watched: Callable[[Path], list[str]]
) -> None:
    casebook.close()
    moments = watched(casebook.folder)
    for command in (("match", "files"), ("giveaways",), ("giveaways", "--mend")):
        before = len(moments)
        earwitness(casebook.folder, *command)
        assert len(moments) > before, command


def test_comparing_two_folders_lets_others_write(
    rendered: Path, tmp_path: Path, watched: Callable[[Path], list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parallel, "cores", lambda: 1)  # all of it here, where it is watched
    create(tmp_path / "book").close()
    moments = watched(tmp_path / "book")
    earwitness(
        tmp_path / "book", "compare", rendered / "sallow", rendered / "bracken",
        "--listener", "Ada", "--yes", "--no-listen",
    )  # fmt: skip
    assert set(moments) == {"inspect", "read", "sha256"}
    assert counts(tmp_path / "book")["match_sheets"] == 1


def test_a_folder_with_two_files_of_one_track_is_refused_and_nothing_of_it_is_kept(
    rendered: Path, tmp_path: Path
) -> None:
    for name in ("drums.flac", "drums .flac"):
        (tmp_path / "takes").mkdir(exist_ok=True)
        shutil.copy(rendered / "sallow" / "drums.flac", tmp_path / "takes" / name)
    create(tmp_path / "book").close()
    before = counts(tmp_path / "book")
    errors = io.StringIO()
    with pytest.MonkeyPatch.context() as patched, pytest.raises(SystemExit) as left:
        patched.setattr(sys, "stderr", errors)
        main(["--casebook", str(tmp_path / "book"), "setup", "add", "sallow", "--from", str(tmp_path / "takes")])
    assert left.value.code == 2
    assert "setup 'sallow' has a recording of 'drums' already" in errors.getvalue()
    assert counts(tmp_path / "book") == before


def test_two_folders_are_kept_whole_or_not_at_all(
    rendered: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise CasebookError("the disk is full")

    with create(tmp_path / "book") as casebook:
        before = counts(casebook.folder)
        monkeypatch.setattr(giveaway_check, "keep", fails)  # the last of what is kept
        with pytest.raises(CasebookError, match="the disk is full"):
            two_folders.prepare(casebook, rendered / "sallow", rendered / "bracken", Wish("abx", listeners=("Ada",)))
        assert counts(casebook.folder) == before


def test_mends_are_kept_whole_or_not_at_all(casebook: Casebook) -> None:
    selection = select(casebook, [], [])
    setup, passage = selection.setups[0], selection.passages[0]
    good = mends.PassageMend(setup.id, setup.name, passage.id, passage.name, Mend(0.001), "late")
    bad = mends.PassageMend("setup-unknown", "unknown", passage.id, passage.name, Mend(0.001), "late")
    with pytest.raises(CasebookError, match="FOREIGN KEY"):
        mends.keep(casebook, [good, bad])
    assert mends.everything(casebook) == []


def test_a_folder_of_music_is_collected_before_it_is_kept(rendered: Path, tmp_path: Path) -> None:
    with create(tmp_path / "book") as casebook:
        collected = recording_folder.collect(casebook, None, rendered / "sallow")
        assert [one.track.name for one in collected] == ["drums", "strings"]
        assert counts(casebook.folder)["tracks"] == 0
        recording_folder.keep(casebook, collected)
        assert (counts(casebook.folder)["tracks"], counts(casebook.folder)["sources"]) == (2, 2)
