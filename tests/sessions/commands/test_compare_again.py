"""`compare` run again with the same folders goes on where it was, and always ends in the command that comes next."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path
from typing import Any

import click
import pytest

from sessions.casebook.store import FILE_NAME, Casebook
from sessions.commands import comparison_chair
from sessions.commands.comparison_chair import Chair, seal_and_listen
from sessions.commands.context import Context
from sessions.plans import drafting
from sessions.plans.plan_rows import Wish
from tests.command_line import Done, Keyboard, earwitness


@pytest.fixture
def folders(rendered: Path, tmp_path: Path) -> tuple[Path, Path]:
    for name in ("sallow", "bracken"):
        shutil.copytree(rendered / name, tmp_path / name)
    return tmp_path / "sallow", tmp_path / "bracken"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "the book"


def compared(book: Path, folders: tuple[Path, Path], *more: str) -> Done:
    return earwitness(book, "compare", *map(str, folders), "--listener", "Ada", "--no-listen", *more)


def shown(book: Path, *words: str) -> dict[str, Any]:
    done = earwitness(book, *words, "--json")
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_it_goes_on_from_the_draft_to_the_seal_the_trials_and_the_verdict(
    book: Path, folders: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    hint = f"earwitness --casebook '{book}'"
    for turn in range(2):
        monkeypatch.setattr(sys, "stdin", Keyboard("n\n"))
        said = compared(book, folders).stdout
        assert ("goes on where it was" in said) == (turn == 1)
        assert said.splitlines()[-1].endswith(f"to seal it: {hint} seal abx-1")
    assert [one["name"] for one in shown(book, "plan", "list")["plans"]] == ["abx-1"]
    assert [len(shown(book, each, "list")[f"{each}s"]) for each in ("setup", "passage")] == [2, 2]
    edited = earwitness(book, "edit", "passage", "drums 1", "--to", "0:02.5", "--yes")  # its match holds no longer
    assert edited.returncode == 0, edited.stderr
    sealed = shown(book, "compare", *map(str, folders), "--listener", "Ada", "--no-listen", "--yes")
    assert (sealed["plan"], sealed["resumed"], len(sealed["seal"])) == ("abx-1", True, 64)
    assert {one["match"] for one in shown(book, "passage", "list")["passages"]} == {"ok"}
    waits = compared(book, folders, "--yes")
    assert waits.stdout.splitlines()[-1] == f"Listen: {hint} listen abx-1 --listener Ada"
    assert earwitness(book, "plan", "close", "abx-1", "--why", "heard enough", "--yes").returncode == 0
    over = compared(book, folders, "--yes").stdout
    assert f"Plan 'abx-1' is over. Its result: {hint} verdict abx-1\n" in over
    asked_else = shown(book, "compare", *map(str, folders), "--listener", "Ada", "--no-listen", "--yes", "--preference")
    assert asked_else["plan"] == "preference-1"


def test_what_it_cannot_go_on_with_is_refused_with_the_way(book: Path, folders: tuple[Path, Path]) -> None:
    assert compared(book, folders, "--yes").returncode == 0
    around = compared(book, folders, "--yes", "--around", "drums=0:01")
    assert around.returncode == 2
    assert "passage suggest --around drums=0:01 --add" in around.stderr
    elsewhere = folders[0].parent / "else" / "sallow"
    elsewhere.parent.mkdir()
    shutil.copytree(folders[0], elsewhere)
    other = compared(book, (elsewhere, folders[1]), "--yes")
    assert other.returncode == 2
    assert "'sallow' has recordings that are not in" in other.stderr
    assert "earwitness --casebook NEW compare" in other.stderr


def test_an_empty_casebook_is_filled(book: Path, folders: tuple[Path, Path]) -> None:
    assert earwitness(book, "new", str(book)).returncode == 0
    assert (book / FILE_NAME).is_file()
    assert compared(book, folders, "--yes").stdout.splitlines()[-1].startswith("Listen: ")


def test_a_plan_that_waits_is_named_before_another_question_is_drafted(
    book: Path, folders: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    hint = f"earwitness --casebook '{book}'"
    assert compared(book, folders, "--preference", "--trials", "6", "--yes").returncode == 0
    shorter = ("compare", *map(str, folders), "--listener", "Bo", "--no-listen")
    monkeypatch.setattr(sys, "stdin", Keyboard("\n"))
    said = earwitness(book, *shorter).stdout
    assert "goes on where it was" not in said
    assert f"to go on with it: {hint} listen preference-1 --listener Ada" in said
    assert "another primary question" in said
    assert said.splitlines()[-1].endswith("Nothing new is drafted.")
    assert [one["name"] for one in shown(book, "plan", "list")["plans"]] == ["preference-1"]
    monkeypatch.setattr(sys, "stdin", Keyboard("y\nn\n"))
    assert "plan show abx-1" in earwitness(book, *shorter).stdout


def test_what_nobody_typed_is_as_the_draft_that_waits_has_it(
    book: Path, folders: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Draft, then change who listens and how often as told; the bare command called that another primary question."""
    monkeypatch.setattr(sys, "stdin", Keyboard("n\n"))
    assert compared(book, folders).returncode == 0
    assert earwitness(book, "listener", "add", "Hazel").returncode == 0
    assert earwitness(book, "edit", "draft", "abx-1", "--listener", "Hazel", "--trials", "20").returncode == 0
    bare = ("compare", *map(str, folders), "--no-listen")
    for contradicting in (("--listener", "Bo"), ("--trials", "12"), ("--preference",)):
        monkeypatch.setattr(sys, "stdin", Keyboard("n\n"))
        assert "is none of them" in earwitness(book, *bare, *contradicting).stdout
    monkeypatch.setattr(sys, "stdin", Keyboard("y\n"))
    said = earwitness(book, *bare).stdout
    assert "goes on where it was" in said
    assert "another primary question" not in said
    assert said.splitlines()[-1].endswith("listen abx-1 --listener Hazel")
    [only] = shown(book, "plan", "list")["plans"]
    assert (only["name"], only["state"], [one["name"] for one in only["listeners"]]) == ("abx-1", "sealed", ["Hazel"])


def test_the_line_to_publish_stays_until_somebody_presses_enter(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = Wish("abx", ("sallow", "bracken"), listeners=("Ada",), trials=8)
    made = drafting.draft(casebook, asked, "evening")
    chair = Chair(Context(), casebook.folder, "earwitness", "Ada", None, "", yes=True, no_listen=False, as_json=False)
    begun: list[str] = []
    monkeypatch.setattr(comparison_chair.asked_device, "fitted_or_kept", lambda _, plan, *rest: plan)
    monkeypatch.setattr(comparison_chair, "listen", lambda *_: begun.append(capsys.readouterr().out))
    monkeypatch.setattr(sys, "stdin", Keyboard(""))
    with pytest.raises(click.Abort, match="to go on: earwitness listen evening --listener Ada"):
        seal_and_listen(casebook, made, chair, lambda _: {})
    assert begun == []
    made = drafting.draft(casebook, asked, "night")
    monkeypatch.setattr(sys, "stdin", Keyboard("\n"))
    seal_and_listen(casebook, made, chair, lambda _: {})
    assert [comparison_chair.BEFORE_FIRST in said for said in begun] == [True]


def test_a_new_casebook_says_a_next_command_that_finds_it_from_where_it_is_typed(tmp_path: Path) -> None:
    book = tmp_path / "ev 2"
    told = earwitness(book, "new", str(book)).stdout  # with --casebook
    assert told.rstrip().endswith(f"Next: earwitness --casebook '{book}' setup add NAME --from DIR")
    assert "cd " not in told
