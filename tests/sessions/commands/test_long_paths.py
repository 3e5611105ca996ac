"""A path that no system could hold is refused in one short line, wherever it is typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from sessions.casebook.store import create
from sessions.desk.jobs import Compare
from sessions.desk.works import Works
from tests.command_line import earwitness

LETTERS = 5000
WORDS = ("p" * LETTERS, "long name " * (LETTERS // 10), "/".join(["part"] * (LETTERS // 5)))
COMMANDS = [
    ["setup", "add", "third", "--from", "PATH"],
    ["setup", "relink", "PATH"],
    ["loudness", "PATH"],
    ["curve", "add", "sallow", "PATH"],
    ["backup", "PATH"],
    ["export", "PATH", "--as", "csv"],
    ["merge", "PATH"],
    ["report", "PATH"],
    ["new", "PATH"],
    ["compare", "PATH", ".", "--no-listen", "--yes"],
    ["compare", ".", "PATH", "--no-listen", "--yes"],
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("home") / "book"
    create(made).close()
    return made


@pytest.mark.parametrize("typed", WORDS, ids=["one part", "words", "many parts"])
@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_a_path_beyond_all_bounds_is_one_short_line(folder: Path, command: list[str], typed: str) -> None:
    said = earwitness(folder, *(typed if word == "PATH" else word for word in command))
    assert said.returncode == 2, said
    assert said.stderr.count("\n") == 1
    assert "fault of this program" not in said.stderr
    assert len(said.stderr) < 400, said.stderr


@pytest.mark.parametrize("typed", WORDS, ids=["one part", "words", "many parts"])
def test_the_desk_refuses_it_in_one_line_too(folder: Path, typed: str) -> None:
    works = Works(folder, apart=False)
    works.start(Compare(typed, ".", "abx", "Ada", 16))
    works.wait()
    found = works.now()
    works.close()
    assert found is not None
    assert found.state == "failed"
    assert found.line.startswith("no folder ")
    assert found.line.endswith("; name the folder that holds the recordings")
    assert len(found.line) < 200
