"""The log of words on a real casebook: what is said stays, a correction replaces it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Listener
from sessions.casebook.store import Casebook, create
from sessions.errors import CatalogueError
from sessions.words import log, search
from sessions.words.log import Word
from tests.casebooks import chain_holds


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Casebook]:
    with create(tmp_path / "book") as casebook:
        yield casebook


@pytest.fixture
def ada(book: Casebook) -> Listener:
    return catalogue.add_listener(book, "Ada")


def terms(words: list[log.LoggedWord]) -> list[str]:
    return [word.term for word in words]


def test_words_are_corrected_by_new_words(book: Casebook, ada: Listener) -> None:
    first = log.log(book, ada, Word("bright", 3))
    log.log(book, ada, Word("brilliant", 3, corrects=first.id))
    assert terms(log.words(book)) == ["brilliant"]
    assert search.matching(log.words(book), "bright") == []
    assert [row["term"] for row in book.query("SELECT term FROM words ORDER BY seq")] == ["bright", "brilliant"]
    assert chain_holds(book)


def test_a_word_is_corrected_once_and_then_its_correction(book: Casebook, ada: Listener) -> None:
    first = log.log(book, ada, Word("bright", 3))
    second = log.log(book, ada, Word("brilliant", 3, corrects=first.id))
    with pytest.raises(CatalogueError, match=f"{first.id} was corrected already, by {second.id}: correct that one"):
        log.log(book, ada, Word("dull", 3, corrects=first.id))
    log.log(book, ada, Word("hard", 3, corrects=second.id))
    assert terms(log.words(book)) == ["hard"]
    assert terms(log.words(book, corrected=True)) == ["bright", "brilliant", "hard"]


def test_a_word_is_kept_as_it_was_typed_with_whose_it_is_and_what_of(book: Casebook, ada: Listener) -> None:
    setup, track = catalogue.add_setup(book, "sallow"), catalogue.keep(book, catalogue.new_track(book, "drums"))
    kept = log.log(book, ada, Word("  Too   Boomy ", 4, 2500, note=" low ", setup_id=setup.id, track_id=track.id))
    assert (kept.term, kept.strength, kept.track_ms, kept.note) == ("Too Boomy", 4, 2500, "low")
    assert (kept.listener, kept.setup, kept.track, kept.blind, kept.corrected) == (
        "Ada",
        "sallow",
        "drums",
        False,
        False,
    )
    log.log(book, ada, Word("thin", 2))
    assert terms(log.words(book, setup_id=setup.id)) == terms(log.words(book, track_id=track.id)) == ["Too Boomy"]


@pytest.mark.parametrize(
    ("word", "says"),
    [
        (Word(" ", 3), "1 to 60 characters; got 0"),
        (Word("x" * 61, 3), "1 to 60 characters; got 61"),
        (Word("thin", 0), "strength 0 is out of range"),
        (Word("thin", 6), "strength 6 is out of range"),
        (Word("thin", 3, -1), "0 or more; got -0.001 s"),
        (Word("thin", 3, corrects="word-x"), "no word 'word-x' to correct"),
    ],
)
def test_a_word_that_cannot_be_one_leaves_nothing_not_even_its_new_listener(
    book: Casebook, word: Word, says: str
) -> None:
    bo = catalogue.new_listener(book, "Bo")
    with pytest.raises(CatalogueError, match=says):
        log.log(book, bo, word)
    assert log.words(book) == []
    assert catalogue.named(book, Listener, "Bo") is None
    assert log.log(book, bo, replace(word, term="thin", strength=3, track_ms=None, corrects=None)).listener == "Bo"


def test_nothing_is_looked_up_while_a_word_is_written(book: Casebook, ada: Listener) -> None:
    first = log.log(book, ada, Word("bright", 3))
    asked: list[str] = []
    book.db.conn.set_trace_callback(asked.append)
    log.log(book, ada, Word("brilliant", 3, corrects=first.id))
    book.db.conn.set_trace_callback(None)
    within = asked[asked.index("BEGIN IMMEDIATE") : asked.index("COMMIT")]
    assert [sql for sql in within if sql.startswith("SELECT")] == [
        "SELECT head_seq, head_hash FROM casebook"
    ]  # the chain's end
