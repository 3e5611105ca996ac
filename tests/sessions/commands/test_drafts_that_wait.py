"""A draft stays what it was made for while the casebook grows, and what is told about it leads on."""

from __future__ import annotations

import io
import shlex
import sys
from dataclasses import replace

import pytest

from sessions.casebook import catalogue
from sessions.casebook.store import Casebook
from sessions.plans import drafting, plan_rows
from tests.command_line import earwitness


@pytest.fixture(autouse=True)
def nobody_at_the_keyboard(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    monkeypatch.delenv("EARWITNESS_CASEBOOK", raising=False)


def of_what(casebook: Casebook, name: str) -> list[str]:
    draft = drafting.drafted(casebook, name)
    assert draft is not None
    return [setup.name for setup in draft.setups]


def test_a_setup_that_is_added_later_is_no_part_of_a_draft(casebook: Casebook) -> None:
    book = casebook.folder
    assert earwitness(book, "plan", "abx", "--listener", "Ada").returncode == 0  # as status tells it
    both = of_what(casebook, "abx-1")
    catalogue.add_setup(casebook, "tamarack")
    assert (
        of_what(casebook, "abx-1") == both == [one.name for one in catalogue.everything(casebook, catalogue.Setup)][:2]
    )
    assert earwitness(book, "status").stdout.splitlines()[-1].endswith(" seal abx-1")
    assert earwitness(book, "seal", "abx-1", "--elsewhere").returncode == 0


def test_a_draft_of_before_that_names_no_setups_is_led_to_name_them(casebook: Casebook) -> None:
    book = casebook.folder
    assert earwitness(book, "plan", "abx", "--listener", "Ada").returncode == 0
    draft = plan_rows.draft(casebook, "abx-1")
    assert draft is not None
    plan_rows.rewrite_draft(casebook, replace(draft, wish=replace(draft.wish, setups=())))
    assert len(of_what(casebook, "abx-1")) == 2
    catalogue.add_setup(casebook, "tamarack")
    first, second = (one.name for one in catalogue.everything(casebook, catalogue.Setup)[:2])
    way = f"edit draft abx-1 --setup {first} --setup {second}"
    for words in (["plan", "show", "abx-1"], ["seal", "abx-1"]):
        refused = earwitness(book, *words)
        assert (refused.returncode, refused.stderr.count("\n")) == (2, 1)
        assert refused.stderr.endswith(f"{way}\n")
    last = earwitness(book, "status").stdout.splitlines()[-1]
    assert last.endswith(way)
    assert earwitness(book, *shlex.split(way)).returncode == 0
    assert of_what(casebook, "abx-1") == [first, second]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--add-passage", "nothing"], "no passage called 'nothing'"),
        (["--add-passage", "drums 1", "--all-passages"], "say different things"),
        (
            ["--listener", "Bo"],
            "no listener called 'Bo' in this casebook; there are: Ada; to add this one: earwitness ",
        ),
    ],
)
def test_what_a_draft_cannot_take_in_is_refused_with_the_way(casebook: Casebook, more: list[str], says: str) -> None:
    assert earwitness(casebook.folder, "plan", "abx", "--listener", "Ada").returncode == 0
    refused = earwitness(casebook.folder, "edit", "draft", "abx-1", *more)
    assert (refused.returncode, refused.stderr.count("\n")) == (2, 1)
    assert says in refused.stderr
    assert ("listener add Bo" in refused.stderr) == (more[0] == "--listener")


def test_seal_takes_the_one_draft_that_waits_and_names_them_where_several_do(casebook: Casebook) -> None:
    book = casebook.folder
    hint = f"earwitness --casebook {book}"
    none = earwitness(book, "seal", "--elsewhere")
    assert (none.returncode, none.stderr.strip().endswith(f"{hint} plan --help")) == (2, True)
    for _ in range(2):
        assert earwitness(book, "plan", "abx", "--listener", "Ada").returncode == 0
    several = earwitness(book, "seal", "--elsewhere")
    assert (several.returncode, several.stderr.count("\n")) == (2, 1)
    assert several.stderr.endswith(f"name one: {hint} seal abx-1; {hint} seal abx-2\n")
    assert earwitness(book, "remove", "draft", "abx-1").returncode == 0
    done = earwitness(book, "seal", "--elsewhere")
    assert (done.returncode, plan_rows.draft_names(casebook)) == (0, [])
    assert "Plan 'abx-2' is sealed" in done.stdout


@pytest.mark.parametrize(
    "words",
    [
        ["plan", "abx", "--listener", "NAME"],
        ["listener", "add", "NAME"],
        ["setup", "add", "NAME"],
        ["edit", "draft", "abx-1", "--listener", "NAME"],
    ],
)
def test_what_stands_in_a_told_command_for_a_name_is_none(casebook: Casebook, words: list[str]) -> None:
    drafting.draft(casebook, plan_rows.Wish("abx", listeners=("Ada",)))
    refused = earwitness(casebook.folder, *words)
    assert (refused.returncode, refused.stderr.count("\n")) == (2, 1)
    assert "give a name of your own in place of NAME" in refused.stderr
    assert len(plan_rows.draft_names(casebook)) == 1
    assert "NAME" not in {one.name for one in catalogue.everything(casebook, catalogue.Setup)}
    assert "NAME" not in catalogue.names(casebook, catalogue.Listener).values()


def test_a_place_in_a_track_is_told_as_it_is_typed_and_one_recording_is_one(casebook: Casebook) -> None:
    book = casebook.folder
    past = earwitness(book, "passage", "add", "drums", "--from", "9:06", "--to", "9:26")
    assert "it ends at 9:26.00" in past.stderr
    assert earwitness(book, "remove", "setup", "bracken", "--yes").returncode == 0
    asked = earwitness(book, "remove", "track", "drums")
    assert "its 1 recording (the file stays)" in asked.stdout + asked.stderr
