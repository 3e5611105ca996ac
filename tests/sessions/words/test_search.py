"""Words found again whatever their capitals, accents and forms; and what is no form of a word is not found."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sessions.errors import CatalogueError
from sessions.words.folding import folded, roots
from sessions.words.log import LoggedWord
from sessions.words.search import matching


def word(term: str, note: str = "") -> LoggedWord:
    return LoggedWord(term, "", "Ada", None, None, None, None, term, 3, None, False, note, None, False)


def found(terms: list[str], text: str) -> list[str]:
    return [one.term for one in matching([word(term) for term in terms], text)]


@pytest.mark.parametrize(
    ("forms", "others"),
    [  # English forms, from a school grammar's rules, from memory: doubled letters, y to i, a dropped e
        (["bright", "Brighter", "brightest", "brightness", "brightly", "BRIGHT"], ["light", "brittle"]),
        (["boom", "boomy", "booms", "boomier", "boominess"], ["bloom", "room"]),
        (["thin", "thinner", "thinnest", "thinness", "thinly"], ["tin", "thing"]),
        (["coarse", "coarser", "coarsely", "coarseness"], ["course"]),
        (["voice", "voices", "voice's"], ["void"]),
        (["harsh", "harshly", "harshness"], ["marsh"]),
        (["airy", "airier", "airiness", "air"], ["fairy", "hair"]),
        (["noise", "noisy", "noises", "noisier"], ["nose"]),
        (["bass", "basses", "bassy"], ["brass"]),
        (["métallique", "METALLIQUE"], ["metal"]),
        (["süß", "SÜSS", "suss"], ["sausage"]),
    ],
)
def test_each_form_finds_all_the_others_and_no_other_word(forms: list[str], others: list[str]) -> None:
    for form in forms:
        assert found([*forms, *others], form) == forms, form


def test_a_word_is_found_by_its_note_after_those_that_say_it() -> None:
    words = [word("thin", "voices of the kit"), word("a Voice too near"), word("boomy")]
    assert [one.term for one in matching(words, "voice")] == ["a Voice too near", "thin"]


def test_all_that_is_asked_for_must_be_there() -> None:
    assert found(["bright and thin", "bright"], "thin bright") == ["bright and thin"]


def test_nothing_is_no_search() -> None:
    with pytest.raises(CatalogueError, match="nothing to search for"):
        found(["bright"], " ... ")


@given(st.text())
def test_folding_twice_changes_nothing_more_and_every_text_is_found_by_itself(text: str) -> None:
    assert folded(folded(text)) == folded(text)
    if roots(text):
        assert found([text], text) == [text]
