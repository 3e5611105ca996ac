"""Where a command finds no casebook, or another than was meant, or recordings that moved, it says what to type."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import pytest

from sessions.casebook.nearest_casebook import find
from sessions.casebook.store import FILE_NAME, Casebook, create
from sessions.commands.main import main
from sessions.errors import CasebookError
from tests.command_line import Keyboard, earwitness


@pytest.fixture
def away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of one's own to type in, with two folders of recordings."""
    monkeypatch.delenv("EARWITNESS_CASEBOOK", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def typed(*words: str) -> int:
    with pytest.raises(SystemExit) as left:
        main([*words])
    assert isinstance(left.value.code, int)
    return left.value.code


def test_casebooks_one_level_below_are_named(away: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(CasebookError, match="start one with earwitness new DIR"):
        find(None, away)
    create(away / "A vs B").close()
    assert typed("status") == 2
    said = capsys.readouterr().err
    assert "there is one in A vs B: cd 'A vs B', or name it with each command: earwitness --casebook 'A vs B'" in said
    create(away / "C").close()
    with pytest.raises(CasebookError, match="one in A vs B; and in C: cd 'A vs B'"):
        find(None, away)
    assert typed() == 0
    assert "there is one in A vs B" in capsys.readouterr().out


def test_comparing_inside_a_casebook_asks_before_it_begins_another(
    rendered: Path, away: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    book = away / "review"
    create(book).close()
    monkeypatch.chdir(book)
    monkeypatch.setattr(sys, "stdin", Keyboard("\n"))
    folders = [str(rendered / name) for name in ("sallow", "bracken")]
    assert typed("compare", *folders, "--no-listen", "--listener", "Ada") == 0
    said = capsys.readouterr().out
    assert f"To compare in the one there is: earwitness --casebook {book} compare {' '.join(folders)}" in said
    assert "Begin another casebook? [y/N]" in said
    assert os.listdir(book) == [FILE_NAME] or not any((one / FILE_NAME).is_file() for one in book.iterdir())


def test_a_suggestion_from_recordings_that_moved_names_relink(casebook: Casebook, tmp_path: Path) -> None:
    """They are copied into the casebook's folder here, so that the others' recordings stay where they are."""
    home = tmp_path / "takes"
    for row in casebook.query("SELECT path FROM recordings"):
        shutil.copytree(Path(row["path"]).parent, home / Path(row["path"]).parent.name, dirs_exist_ok=True)
    assert earwitness(tmp_path / "new", "new", str(tmp_path / "new")).returncode == 0
    for name in ("sallow", "bracken"):
        added = earwitness(tmp_path / "new", "setup", "add", name, "--from", str(home / name))
        assert added.returncode == 0, added.stderr
    home.rename(tmp_path / "moved")
    refused = earwitness(tmp_path / "new", "passage", "suggest")
    assert refused.returncode == 2
    assert refused.stderr.strip().endswith(f"earwitness --casebook {tmp_path / 'new'} setup relink DIR")
    assert "cannot be opened" not in refused.stderr
