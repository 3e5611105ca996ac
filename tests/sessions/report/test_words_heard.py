"""Words on the difference of curves: blind and sighted apart, and never a word of a trial that is not over."""

from __future__ import annotations

import pytest

from sessions.report.word_rows import WordRow
from sessions.report.words_heard import words_heard
from sessions.words.lexicon import shipped
from sessions.words.word_bands import band_of

SETUPS = {"s1": "sallow", "s2": "bracken"}


def test_words_said_blind_come_first_with_a_whole_bar() -> None:
    rows = [WordRow("boxy", how="sighted", setup_id="s1"), WordRow("bright", how="in a blind trial", setup_id="s2")]
    found = words_heard(rows, SETUPS, (20, 20_000)).marked()
    assert [(one.words, one.firm) for one in found] == [
        ("bright: bracken, in a blind trial, below 0", True),
        ("boxy: sallow, sighted, above 0", False),
    ]


def test_words_that_differ_in_capitals_and_accents_are_counted_as_one() -> None:
    rows = [WordRow(term, how="sighted", setup_id="s1") for term in ("Bright", "bright", "BRIGHT")]
    assert [one.words for one in words_heard(rows, SETUPS, (20, 20_000)).marked()] == [
        "Bright: sallow, sighted, 3 times, above 0"
    ]


def test_what_a_running_trial_hides_is_not_told() -> None:
    found = words_heard(
        [WordRow("bright", of="told when the plan is over", how="in a blind trial")], SETUPS, (20, 20_000)
    )
    assert (found.marked(), found.lines()) == ((), [])


@pytest.mark.parametrize("term", [word for word, entry in shipped().entries.items() if entry.drawn])
def test_every_band_has_a_source_and_says_how_it_was_read(term: str) -> None:
    band = band_of(term)
    assert band is not None
    assert 20 <= band.low_hz < band.high_hz <= 20_000
    assert any(mark in band.source for mark in ("read", "second-hand", "from memory"))


@pytest.mark.parametrize("term", ["muddy", "nasal", "present", "hollow", "warm", "forward"])
def test_words_whose_sources_are_octaves_apart_or_name_no_hz_have_no_band(term: str) -> None:
    assert band_of(term) is None


@pytest.mark.parametrize(
    ("term", "setup", "side"),
    [("bright", "s1", "above 0"), ("bright", "s2", "below 0"), ("dull", "s1", "below 0"), ("dull", "s2", "above 0")],
)
def test_a_word_says_on_which_side_of_the_difference_it_would_lie(term: str, setup: str, side: str) -> None:
    """The first less the second: more of the first or less of the second lies above 0."""
    found = words_heard([WordRow(term, how="blind", setup_id=setup)], SETUPS, (20, 20_000))
    [mark], [line] = found.marked(), found.lines()
    assert mark.words.endswith(f"blind, {side}")
    assert line.endswith(f"; so the line would lie {side} there.")


def test_a_word_with_a_band_without_a_source_is_told_with_it_as_the_lexicon_marks_it_and_not_drawn() -> None:
    found = words_heard([WordRow("warm", how="sighted", setup_id="s2")], SETUPS, (20, 20_000))
    assert found.marked() == ()
    [line] = found.lines()
    assert line.startswith(
        "warm: bracken, sighted. The hypothesis: 100 to 400 Hz, more (band common practice, no source"
    )
    assert "so the line would lie below 0 there. It is not drawn" in line
    nowhere = words_heard([WordRow("natural", how="sighted", setup_id="s2")], SETUPS, (20, 20_000))
    assert nowhere.lines() == ["Said, with no measurable band stated: natural: bracken, sighted."]
    narrow = words_heard([WordRow("warm", how="sighted", setup_id="s2")], SETUPS, (500, 20_000))
    assert narrow.lines() == ["Said, in a band that was not measured validly: warm: bracken, sighted (100 to 400 Hz)."]
