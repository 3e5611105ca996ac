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
