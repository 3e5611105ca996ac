"""A word just typed is taken back at its prompt: out of all that counts or is listed, not out of the record."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Passage, Setup
from sessions.casebook.store import Casebook
from sessions.commands import keyboard
from sessions.commands.free_page import FreePage
from sessions.listening import free_session, free_sounds, words_said_here
from sessions.listening.free_listening import FreeListening
from sessions.results import verification
from sessions.words import log
from tests.casebooks import held
from tests.command_line import Done, Keyboard, earwitness
from tests.fakes import SilentPlayer


@pytest.fixture
def ada(casebook: Casebook) -> Casebook:
    """The casebook with one listener."""
    catalogue.add_listener(casebook, "Ada")
    return casebook


@pytest.fixture
def page(ada: Casebook) -> Iterator[FreePage]:
    """An evening of free listening at one passage, with nothing played."""
    setups = tuple(catalogue.find(ada, Setup, name) for name in ("sallow", "bracken"))
    stretch = free_sounds.of_passage(ada, catalogue.find(ada, Passage, "drums 1"))
    ready = free_sounds.ready(ada, setups, stretch)
    with free_session.begin(ada, catalogue.find(ada, catalogue.Listener, "Ada"), setups, "none: test") as begun:
        listening = FreeListening(begun, SilentPlayer())
        listening.load(ready)
        yield FreePage(
            listening, [stretch], lambda _: ready, recall=lambda one: words_said_here.said_here(ada, setups, one)
        )


def typed(book: Casebook, monkeypatch: pytest.MonkeyPatch, *lines: str, arguments: tuple[str, ...] = ()) -> Done:
    monkeypatch.setattr("sys.stdin", Keyboard("".join(f"{line}\n" for line in lines)))
    return earwitness(book.folder, "word", "log", *arguments)


def terms(book: Casebook) -> list[str]:
    return [word.term for word in log.words(book)]


def test_at_the_prompt_the_last_word_is_taken_back_and_then_the_one_before_it(
    ada: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    done = typed(ada, monkeypatch, "bright 2", "booomy 4", ".undo", "boomy 4", "thin", ".undo", ".undo", "")
    said = done.stdout.splitlines()
    assert ".undo takes the last word back" in said[0]
    assert [line.partition(" (word-")[0].strip() for line in said if "taken back:" in line] == [
        "word:   taken back: booomy, 4", "word:   taken back: thin, 3", "word:   taken back: boomy, 4",
    ]  # fmt: skip
    assert said[-1] == "word: 1 word of Ada kept."
    assert terms(ada) == ["bright"]
    assert len(ada.query("SELECT * FROM words")) == 7  # four words, and three that take one back
    assert verification.verify(ada).ok


def test_a_program_reads_only_what_is_left(ada: Casebook, monkeypatch: pytest.MonkeyPatch) -> None:
    left = json.loads(typed(ada, monkeypatch, "bright", ".undo", "thin", "", arguments=("--json",)).stdout)
    assert [one["term"] for one in left["words"]] == ["thin"]


def test_what_was_taken_back_counts_nowhere_and_is_told_as_that(ada: Casebook, monkeypatch: pytest.MonkeyPatch) -> None:
    typed(ada, monkeypatch, "bright", "booomy 4", ".undo", "", arguments=("--setup", "sallow"))
    listed, told = (earwitness(ada.folder, "word", "list", *more).stdout for more in ((), ("--corrected",)))
    assert "booomy" not in listed
    assert listed.splitlines()[-1] == "1 word was taken back."
    (row,) = [line for line in told.splitlines() if "booomy" in line]
    assert row.rstrip().endswith("taken back")
    summary = json.loads(earwitness(ada.folder, "word", "summary", "--json").stdout)
    assert [one["word"] for one in summary["setups"]["sallow"]] == ["bright"]
    assert (summary["corrected"]["words"], summary["corrected"]["taken_back"]) == (0, 1)
    assert "1 word was taken back." in earwitness(ada.folder, "status").stdout
    assert earwitness(ada.folder, "word", "search", "booomy").stdout == "No words.\n"
    gone = next(word for word in log.words(ada, corrected=True) if word.taken_back)
    again = earwitness(ada.folder, "word", "log", "boomy", "--corrects", gone.id)
    assert (again.returncode, "was taken back; log the word anew" in again.stderr) == (2, True)


def test_only_words_of_this_prompt_are_taken_back(ada: Casebook, monkeypatch: pytest.MonkeyPatch) -> None:
    typed(ada, monkeypatch, "bright", "")
    assert "nothing to take back" in typed(ada, monkeypatch, ".undo", "").stdout
    assert terms(ada) == ["bright"]


def test_in_free_listening_a_key_takes_the_last_word_of_the_evening_back(page: FreePage, ada: Casebook) -> None:
    assert any("z: take the last one back" in line for line in page.what_keys_do())
    for key in ("a", "w", *"thin", keyboard.ENTER, "4", "w", *"dlul", keyboard.ENTER, "2", "z"):
        page.turn(key)
    assert page.message.startswith("taken back: dlul 2: sallow, 0:0")
    assert [word.partition(":")[0] for word in page.words] == terms_and_strengths(ada) == ["thin 4"]
    page.turn("r")
    assert "word 1 of 1: thin 4" in page.message
    for key in "zz":
        page.turn(key)
    assert page.message == "nothing to take back: no word of this evening is kept"
    assert (page.words, terms(ada)) == ([], [])
    assert verification.verify(ada).ok


def terms_and_strengths(book: Casebook) -> list[str]:
    return [f"{word.term} {word.strength}" for word in log.words(book)]


def test_while_another_program_holds_the_casebook_a_word_and_its_taking_back_wait_in_their_order(
    page: FreePage, ada: Casebook
) -> None:
    ada.set_busy_timeout(1)
    with held(ada.folder):
        for key in ("a", "w", *"thin", keyboard.ENTER, "4", "z"):
            page.turn(key)
        assert "waiting" in page.messages()[0]
    page.listening.leave()
    assert terms(ada) == []
    assert [row["term"] for row in ada.query("SELECT term FROM words ORDER BY seq")] == ["thin", ""]
