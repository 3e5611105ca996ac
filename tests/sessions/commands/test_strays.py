"""What of a folder does not come into a comparison is named and asked about; names keep their signs."""

from __future__ import annotations

import io
import json
import shlex
import shutil
import sys
from contextlib import redirect_stdout
from pathlib import Path

import pytest

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Track
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.commands import context
from sessions.errors import CatalogueError
from sessions.measured import fact_rows
from sessions.measured.figures import figure_table
from sessions.plans import resumed_comparison, two_folders
from sessions.preparation import recording_folder, unread_files
from tests.command_line import Done, Keyboard, earwitness

SONG = "01 - Salt & Sand, part 1+2 (live)"


@pytest.fixture
def folders(rendered: Path, tmp_path: Path) -> tuple[Path, Path]:
    """A song with signs in its name, one that is in the first folder only, and two files that are not read."""
    for name in ("sallow", "bracken"):
        (tmp_path / name).mkdir()
        shutil.copy(rendered / name / "drums.flac", tmp_path / name / f"{SONG}.flac")
    shutil.copy(rendered / "sallow" / "strings.flac", tmp_path / "sallow" / "alone.flac")
    (tmp_path / "bracken" / "clip.M4A").write_bytes(b"\0\0\0\x18ftypM4A ")
    (tmp_path / "bracken" / "evening.mp4").write_bytes(b"\0\0\0\x18ftypmp42")
    (tmp_path / "bracken" / "cover.jpg").write_bytes(b"\xff\xd8")
    return tmp_path / "sallow", tmp_path / "bracken"


def compared(book: Path, folders: tuple[Path, Path], *more: str) -> Done:
    return earwitness(book, "compare", *map(str, folders), "--listener", "Ada", "--no-listen", *more)


def unread(path: Path) -> str:
    return f"{path}: not read: clip.M4A, evening.mp4; {unread_files.HOW}"


def test_another_answer_than_yes_or_no_is_told_what_can_be_typed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("j\nY\n"))
    said = io.StringIO()
    with redirect_stdout(said):
        assert context.confirmed("Seal?", default=False, as_json=False)
    assert "Error: type y for yes or n for no" in said.getvalue()


def test_strays_are_asked_about_and_what_is_not_read_is_named(
    folders: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = tmp_path / "book"
    monkeypatch.setattr(sys, "stdin", Keyboard("n\n"))
    refused = compared(book, folders)
    assert refused.returncode == 0
    assert unread(folders[1]) in refused.stdout.splitlines()
    assert f"left over, without a partner: {folders[0] / 'alone.flac'}" in refused.stdout
    assert "Go on without them?" in refused.stdout
    assert not book.exists()
    done = compared(book, folders, "--yes", "--json")
    assert unread(folders[1]) in done.stderr.splitlines()
    document = json.loads(done.stdout)
    assert document["not_read"] == [str(folders[1] / "clip.M4A"), str(folders[1] / "evening.mp4")]
    assert [pair["track"] for pair in document["pairs"]] == [SONG]
    with open_casebook(book) as casebook:
        assert [one.name for one in catalogue.everything(casebook, Track)] == [SONG]
    again = compared(book, folders, "--yes")
    assert unread(folders[1]) in again.stdout.splitlines()
    assert f"left over, without a partner: {folders[0] / 'alone.flac'}" in again.stdout


def test_a_folder_of_nothing_that_is_read_says_what_it_holds(folders: tuple[Path, Path], tmp_path: Path) -> None:
    (folders[1] / f"{SONG}.flac").unlink()
    refused = compared(tmp_path / "book", folders, "--yes")
    assert refused.returncode == 2
    assert refused.stderr.count("\n") == 1
    assert "not read: clip.M4A, evening.mp4; convert to WAV or FLAC first" in refused.stderr


def test_a_setup_is_added_with_its_strays_named_and_agreed_to(
    casebook: Casebook, folders: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    book = casebook.folder
    (folders[1] / f"{SONG}.flac").rename(folders[1] / "drum.flac")
    monkeypatch.setattr(sys, "stdin", Keyboard("n\n"))
    asked = earwitness(book, "setup", "add", "the third", "--from", str(folders[1]))
    assert unread(folders[1]) in asked.stdout
    assert "the third lacks strings" in asked.stdout
    told = next(line for line in asked.stdout.splitlines() if line.startswith("only the third has drum"))
    words = shlex.split(told.partition(" and then: ")[2])
    assert words[-4:] == ["add", "drums", "--file", f"the third={folders[1] / 'drum.flac'}"]
    assert "'the third' is not added" in asked.stdout
    monkeypatch.setattr(sys, "stdin", io.StringIO())  # where nobody can be asked it is said
    added = earwitness(book, "setup", "add", "the third", "--from", str(folders[1]))
    assert added.returncode == 0
    assert "only the third has drum" in added.stdout
    assert "Setup 'the third' added with 1 recording." in added.stdout


@pytest.mark.parametrize(
    ("file", "name"),
    [
        (f"{SONG}.wav", SONG),
        ("(intro) a, b & c.flac", "intro) a, b & c"),
        ("What?! [take] #2;.wav", "What take 2"),
        ("_-.flac", "track"),
        ("x" * 58 + " & y.wav", "x" * 58),
    ],
)
def test_a_track_keeps_every_sign_that_a_name_may_hold(file: str, name: str) -> None:
    assert recording_folder.track_name(Path("music") / file) == name
    catalogue.check_name(Track, name)


def test_setups_keep_the_signs_of_their_folders_and_the_casebooks_folder_has_none(tmp_path: Path) -> None:
    one, other = tmp_path / "Hall & Oak (white)", tmp_path / "Elm, mk 2"
    assert two_folders.setup_names(one, other) == ("Hall & Oak (white)", "Elm, mk 2")
    assert two_folders.plain_names(one, other) == ("Hall Oak white", "Elm mk 2")


def test_a_comparison_of_before_names_had_signs_is_found_again(folders: tuple[Path, Path], tmp_path: Path) -> None:
    signed = tmp_path / "sallow (new)"
    folders[0].rename(signed)
    with create(tmp_path / "book") as casebook:
        for name, folder in (("sallow new", signed), ("bracken", folders[1])):
            recording_folder.add_folder(casebook, catalogue.add_setup(casebook, name), folder)
        assert resumed_comparison.made_before(casebook, signed, folders[1]) == ("sallow new", "bracken")


def test_names_with_signs_are_quoted_wherever_a_command_is_told(casebook: Casebook) -> None:
    name = "bell & horn (old)"
    with casebook.writing():
        casebook.db.execute("UPDATE setups SET name = ? WHERE name = 'bracken'", [name])
    said = [
        earwitness(casebook.folder, "curve", "show", name, "--what", what, "--out", "x.png").stderr
        for what in figure_table.FIGURES
    ]
    said.append(earwitness(casebook.folder, "curve", "export", name, "--out", "x.frd").stderr)
    said.append(earwitness(casebook.folder, "setup", "fact", name, "net weight").stderr)
    told = [line for line in said if "curve add" in line or "setup fact" in line]
    assert len(told) >= 5
    for line in told:
        assert shlex.quote(name) in line
    setup = catalogue.find(casebook, catalogue.Setup, name)
    with pytest.raises(CatalogueError, match=r"setup fact 'bell & horn \(old\)'"):
        fact_rows.keep(casebook, setup, "weight", "", "data sheet")
