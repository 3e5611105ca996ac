"""What was said how often, by whom, when, how: counted by hand."""

from __future__ import annotations

from sessions.words.blindness import IN_A_BLIND_TRIAL, SAID_TO_BE_BLIND, SIGHTED, LabelledWord
from sessions.words.log import LoggedWord
from sessions.words.summary import summary


def said(term: str, setup: str | None, track: str | None, who: str, day: str, how: str, strength: int) -> LabelledWord:
    stimulus = "X" if how == IN_A_BLIND_TRIAL else None
    word = LoggedWord(
        "w", f"{day}T20:00:00.000Z", who, setup, track, None, stimulus, term, strength, None, False, "", None, False
    )
    return LabelledWord(word, how, setup)


WORDS = [
    said("Thin", "sallow", "drums", "Bo", "2026-05-01", SIGHTED, 2),
    said("Métallic", "sallow", "drums", "Ada", "2026-05-02", SIGHTED, 3),
    said("metallic", "sallow", "voice", "Bo", "2026-05-04", IN_A_BLIND_TRIAL, 5),
    said("METALLIC", "sallow", None, "Ada", "2026-05-03", SAID_TO_BE_BLIND, 4),
    said("thin", "bracken", "drums", "Ada", "2026-05-03", SIGHTED, 1),
    said("grainy", None, "drums", "Ada", "2026-05-03", IN_A_BLIND_TRIAL, 1),
]


def test_each_setup_has_its_words_the_most_frequent_first() -> None:
    of_setups = summary(WORDS).setups
    assert list(of_setups) == ["bracken", "sallow", "X, told when the plan is over"]
    first, second = of_setups["sallow"]
    assert (first.term, first.total, first.strength) == ("Métallic", 3, 4.0)
    assert first.times == {IN_A_BLIND_TRIAL: 1, SAID_TO_BE_BLIND: 1, SIGHTED: 1}
    assert (first.by, first.days) == ({"Ada": 2, "Bo": 1}, ("2026-05-02", "2026-05-04"))
    assert (second.term, second.total, second.days) == ("Thin", 1, ("2026-05-01", "2026-05-01"))


def test_each_track_has_its_words_and_those_without_one_come_last() -> None:
    of_tracks = summary(WORDS).tracks
    assert list(of_tracks) == ["drums", "voice", "-"]
    assert [(one.term, one.total) for one in of_tracks["drums"]] == [("Thin", 2), ("Métallic", 1), ("grainy", 1)]
