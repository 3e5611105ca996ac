"""A setup's words against all that was described before."""

from __future__ import annotations

from pathlib import Path

import pytest

from sessions.casebook import catalogue, store
from sessions.commands.profile_lines import profile_lines
from sessions.words.blindness import IN_A_BLIND_TRIAL, SIGHTED, LabelledWord
from sessions.words.lexicon import shipped
from sessions.words.lexicon_changes import Change, changed
from sessions.words.log import LoggedWord
from sessions.words.profile import Profile, profile
from tests.command_line import earwitness

WORDS = shipped()


def said(term: str, setup: str | None, track: str | None, day: str = "2026-11-02", how: str = SIGHTED) -> LabelledWord:
    at = f"{day}T20:00:00.000Z"
    word = LoggedWord("w", at, "Ada", setup, track, None, None, term, 3, None, how != SIGHTED, "", None, False)
    return LabelledWord(word, how, setup, setup and f"id of {setup}")


def of(words: list[LabelledWord], setup: str = "willow") -> Profile:
    return profile(words, f"id of {setup}", setup, WORDS)


def test_tracks_are_counted_once_and_setups_elsewhere_once() -> None:
    words = [said("smooth", "willow", f"track {n}") for n in range(9)] + [said("silky", "willow", "track 0")]
    words += [said("bright", "willow", f"track {n}") for n in range(8, 12)]
    words += [said("Smooth", f"other {n}", "track 1") for n in range(4)]
    words += [said("dull", f"other {n}", f"track {m}") for n in range(10) for m in (1, 2)]
    found = of(words)
    smooth, bright = found.used
    assert (found.tracks, found.others, found.tracks_elsewhere) == (12, 10, 20)
    assert (smooth.word, smooth.tracks, smooth.times, smooth.elsewhere, smooth.tracks_elsewhere) == (
        "smooth",
        9,
        10,
        4,
        4,
    )
    assert (bright.word, bright.tracks, bright.elsewhere) == ("bright", 4, 0)
    assert [(one.word, one.elsewhere) for one in found.never] == [("dull", 10)]
    assert found.families == {"timbre/balance": 10, "timbre/treble": 4}


def test_words_of_the_reviewers_own_lexicon_count_as_the_one_they_were_merged_into() -> None:
    merged = changed(WORDS, Change("merge", "sharp", "bright"))
    found = profile([said("edgy", "willow", "a"), said("hell", "willow", "b")], "id of willow", "willow", merged)
    assert [(one.word, one.tracks) for one in found.used] == [("bright", 2)]


def test_what_may_not_be_told_yet_counts_for_nobody() -> None:
    found = of([said("bright", None, "a", how=IN_A_BLIND_TRIAL), said("dull", "willow", "a", how=IN_A_BLIND_TRIAL)])
    assert [(one.word, one.in_blind_trials) for one in found.used] == [("dull", 1)]
    assert (found.others, found.never) == (0, [])


def test_weeks_are_those_of_iso_8601() -> None:
    # 2024-12-30 lies in week 1 of 2025 (ISO 8601; python's date.isocalendar documents the rule)
    found = of([said("dull", "willow", "a", "2024-12-29"), said("dull", "willow", "a", "2024-12-30")])
    assert found.used[0].weeks == {"2024-W52": 1, "2025-W01": 1}
    assert any("2025-W01" in line for line in profile_lines(found))


def test_nothing_usual_is_missed_where_half_of_the_others_or_fewer_have_it() -> None:
    found = of([said("dull", "a", "x"), said("bright", "b", "x"), said("airy", "willow", "x")])
    assert found.never == []


def test_a_track_that_several_others_were_described_in_is_said_to_count_for_each() -> None:
    others = [said("dull", setup, track) for setup in ("a", "b") for track in ("x", "y")]
    assert (
        "2 other setups with 4 tracks, counted for each setup by itself."
        in profile_lines(of([said("airy", "willow", "x"), *others]))[0]
    )
    one = profile_lines(of([said("airy", "willow", "x"), *others[:2]]))[0]
    assert "set against 1 other setup with 2 tracks. This counts" in one


@pytest.mark.parametrize("words", [[], [said("dull", "other", "x")]])
def test_a_setup_of_which_nothing_was_said_says_so(words: list[LabelledWord]) -> None:
    assert profile_lines(of(words))[0] == (
        "Nothing was said of willow yet: earwitness word log WORD --setup willow --track NAME"
    )


def test_a_liking_word_is_kept_and_asked_about_and_the_profile_names_it(tmp_path: Path) -> None:
    with store.create(tmp_path / "book") as book:
        catalogue.add_listener(book, "Ada")
        catalogue.add_setup(book, "willow")
    done = earwitness(tmp_path / "book", "word", "log", "Nice", "--setup", "willow")
    assert "kept" in done.stdout
    assert "Which word says what you heard?" in done.stdout
    assert "Which word" not in earwitness(tmp_path / "book", "word", "log", "dull", "--setup", "willow").stdout
    shown = earwitness(tmp_path / "book", "word", "profile", "willow").stdout
    assert "'pleasant' says whether you liked it" in shown
    assert max(len(line) for line in shown.splitlines() if "  " in line) <= 80  # sentences are broken on a terminal


def test_what_was_said_outside_of_any_track_is_told_as_in_no_track() -> None:
    outside = of([said("airy", "willow", None), said("dull", "alder", None)])
    assert (outside.tracks, outside.tracks_elsewhere, outside.used[0].tracks) == (0, 0, 0)
    lines = profile_lines(outside)
    assert lines[0].startswith(
        "Words of willow, described outside of any track; set against 1 other setup described outside of any track."
    )
    assert lines[1].splitlines()[1].split() == ["airy", "outside", "0", "of", "1", "1", "-"]
    both = profile_lines(of([said("airy", "willow", "a"), said("dull", "willow", None)]))
    assert both[0].startswith("Words of willow, described in 1 track and outside of any;")
    assert "airy  1 of 1" in both[1]
