"""`word`: one or many at a time, whose they are, and how they are found, listed and counted."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from audio import track_time
from audio.alignment.one_lag import Fit
from sessions.casebook import alignments, catalogue, recordings
from sessions.casebook.catalogue import Listener, Setup, Track
from sessions.casebook.store import Casebook, open_casebook
from sessions.words import log
from tests.command_line import Keyboard, earwitness


@pytest.fixture
def book(casebook: Casebook) -> Path:
    casebook.close()
    return casebook.folder


def types(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    """What somebody types at a terminal, a line each."""
    monkeypatch.setattr("sys.stdin", Keyboard("".join(f"{line}\n" for line in lines)))


def pipes(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    """The same through a pipe."""
    keyboard = Keyboard("".join(f"{line}\n" for line in lines))
    keyboard.isatty = lambda: False  # type: ignore[method-assign]
    monkeypatch.setattr("sys.stdin", keyboard)


def said(book: Path) -> list[tuple[str, int, str, str | None, str | None, int | None, bool, str]]:
    with open_casebook(book) as casebook:
        return [
            (one.term, one.strength, one.listener, one.setup, one.track, one.track_ms, one.blind, one.note)
            for one in log.words(casebook)
        ]


def listeners(book: Path) -> list[str]:
    with open_casebook(book) as casebook:
        return [one.name for one in catalogue.everything(casebook, Listener)]


def with_listeners(book: Path, *names: str) -> None:
    with open_casebook(book) as casebook:
        for name in names:
            catalogue.add_listener(casebook, name)


def test_the_only_listener_needs_no_name(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_listeners(book, "Ada")
    pipes(monkeypatch)
    done = earwitness(book, "word", "log", "Bright")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Word 'Bright' of Ada kept (word-")
    assert [word[:3] for word in said(book)] == [("Bright", 3, "Ada")]


@pytest.mark.parametrize(("there", "names"), [((), "there is none yet"), (("Ada", "Bo"), "there are Ada, Bo")])
def test_in_a_pipe_several_listeners_or_none_must_be_named(
    book: Path, monkeypatch: pytest.MonkeyPatch, there: tuple[str, ...], names: str
) -> None:
    with_listeners(book, *there)
    pipes(monkeypatch)
    done = earwitness(book, "word", "log", "bright")
    assert done.returncode == 2
    assert "--listener NAME" in done.stderr
    assert names in done.stderr
    assert said(book) == []


def test_somebody_unknown_is_refused_in_a_pipe_and_nothing_is_made(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_listeners(book, "Ada")
    pipes(monkeypatch)
    done = earwitness(book, "word", "log", "bright", "--listener", "Adda")
    assert done.returncode == 2
    assert "did you mean 'Ada'?" in done.stderr
    assert "earwitness --casebook" in done.stderr
    assert "listener add Adda" in done.stderr
    assert (said(book), listeners(book)) == ([], ["Ada"])


@pytest.mark.parametrize(("answer", "made"), [("y", True), ("n", False), ("", False)])
def test_somebody_unknown_is_asked_about_at_a_terminal(
    book: Path, monkeypatch: pytest.MonkeyPatch, answer: str, made: bool
) -> None:
    with_listeners(book, "Ada")
    types(monkeypatch, answer)
    done = earwitness(book, "word", "log", "bright", "--listener", "Bo")
    assert "Add 'Bo' as a new listener? [y/N]" in done.stdout
    assert (done.returncode == 0) is made
    assert listeners(book) == (["Ada", "Bo"] if made else ["Ada"])
    assert len(said(book)) == made


def test_of_several_the_one_who_spoke_last_is_proposed(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_listeners(book, "Ada", "Bo")
    earwitness(book, "word", "log", "thin", "--listener", "Bo")
    types(monkeypatch, "")
    done = earwitness(book, "word", "log", "bright")
    assert "Whose words are they (Ada, Bo)? [Bo]" in done.stdout
    assert [word[2] for word in said(book)] == ["Bo", "Bo"]


def test_word_alone_takes_whose_the_words_are_and_lists_take_it_too(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_listeners(book, "Ada", "Bo")
    for who, word in (("Ada", "thin"), ("Bo", "bright")):
        types(monkeypatch, word, "")
        done = earwitness(book, "word", "--listener", who, "--setup", "sallow", "--track", "drums")
        assert f"1 word of {who} kept." in done.stdout
    assert [(word[0], word[2:5]) for word in said(book)] == [
        ("thin", ("Ada", "sallow", "drums")),
        ("bright", ("Bo", "sallow", "drums")),
    ]
    for listing in ("list", "summary"):
        told = earwitness(book, "word", listing, "--listener", "Bo").stdout
        assert ("bright" in told, "thin" in told) == (True, False)
    done = earwitness(book, "word", "--listener", "Bo", "list")
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert "word list … --listener NAME" in done.stderr


def test_a_place_beyond_the_end_of_the_track_is_refused_with_its_length(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_listeners(book, "Ada")
    with open_casebook(book) as casebook:
        drums = catalogue.find(casebook, Track, "drums")
        longest_s = max(one.length_s for one in recordings.of_track(casebook, drums))
    assert longest_s < 60
    done = earwitness(book, "word", "log", "bright", "--track", "drums", "--at", "2:00")
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    whole, _, tenths = f"{longest_s:.1f}".partition(".")
    assert f"2:00.0 lies beyond the end of 'drums', 0:{int(whole):02d}.{tenths}" in done.stderr
    types(monkeypatch, "hot @2:00", f"hot @0:{longest_s:05.2f}", "")
    done = earwitness(book, "word", "log", "--track", "drums")
    assert "not kept: 2:00.0 lies beyond the end of 'drums'" in done.stdout
    assert [word[5] for word in said(book)] == [round(1000 * longest_s)]


def test_a_place_is_judged_by_the_recording_of_its_setup_in_the_time_of_the_first_one(book: Path) -> None:
    """Planted: bracken's file is 2 s late, so that what it holds ends 2 s before its length."""
    with_listeners(book, "Ada")
    with open_casebook(book) as casebook:
        drums = catalogue.find(casebook, Track, "drums")
        first, other = recordings.of_track(casebook, drums)[:2]
        one, late = (catalogue.names(casebook, Setup)[each.setup_id or ""] for each in (first, other))
        fit = Fit(2.0, 0.0, 1.0, 0.0, 0.0, 0.0)
        both = (first.id, other.id, first.sha256, other.sha256)
        alignments.keep(casebook, [alignments.Alignment(*both, fit, None, 1.0, 1.0, settled=True)])
    ends_s = other.length_s - 2.0
    asked = ["word", "log", "bright", "--track", "drums", "--at"]
    beyond = earwitness(book, *asked, f"{ends_s + 1:.1f}", "--setup", late)
    assert (beyond.returncode, beyond.stderr.count("\n")) == (2, 1)
    assert f"beyond the end of 'drums' as {late} has it, {track_time.told(ends_s, 1)} (a track's time" in beyond.stderr
    assert f"is that of its first recording, {one}'s)" in beyond.stderr
    assert earwitness(book, *asked, f"{ends_s - 0.1:.1f}", "--setup", late).returncode == 0
    assert earwitness(book, *asked, f"{first.length_s - 0.1:.1f}", "--setup", one).returncode == 0
    with open_casebook(book) as casebook:
        early = replace(fit, lag_s=-2.0)
        alignments.keep(casebook, [alignments.Alignment(*both, early, None, 1.0, 1.0, settled=True)])
    before = earwitness(book, *asked, "1", "--setup", late)
    assert f"before the beginning of 'drums' as {late} has it, 0:02.0" in before.stderr


def test_a_question_mark_at_the_prompt_shows_how_and_is_no_word(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_listeners(book, "Ada")
    for asked in ("?", ".help"):
        types(monkeypatch, asked, "")
        done = earwitness(book, "word", "log", "--setup", "sallow")
        assert "? shows how" in done.stdout
        assert "bright 4 @1:02.5 (hats)" in done.stdout
        assert "Now: Ada, of sallow, sighted." in done.stdout
        assert max(map(len, done.stdout.partition("Now:")[2].splitlines())) <= 80
    assert said(book) == []


def test_a_string_of_words_needs_no_new_command_each(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_listeners(book, "Ada")
    types(
        monkeypatch, "Bright", "hot @0:01", "thin (hats", "(hats) thin", ".track drums",
        "a bit boomy 4 @0:01.5 (the kick)", "dull 9", ".setup willow", ".setup bracken",
        ".blind", "thin 1", "late @1:75", "q",
    )  # fmt: skip
    done = earwitness(book, "word", "--help")
    done = earwitness(book, "word", "log", "--setup", "sallow")
    assert done.returncode == 0, done.stderr
    assert said(book) == [
        ("Bright", 3, "Ada", "sallow", None, None, False, ""),
        ("a bit boomy", 4, "Ada", "sallow", "drums", 1500, False, "the kick"),
        ("thin", 1, "Ada", "bracken", "drums", None, True, ""),
    ]
    assert "Words of Ada, of sallow, sighted." in done.stdout
    assert "strength 3 where none is typed" in done.stdout
    assert "q or an empty line ends" in done.stdout
    assert "not kept: the place is of no track; type .track NAME" in done.stdout
    assert "not kept: 'thin (hats' has brackets that are not a (note) at its end" in done.stdout
    assert "not kept: '(hats) thin' has brackets" in done.stdout
    assert "not kept: strength 9 is out of range" in done.stdout
    assert "not kept: no setup called 'willow'" in done.stdout
    assert "not kept: '1:75' is no time" in done.stdout
    assert "Ada, of bracken, in drums, said to be blind" in done.stdout
    assert done.stdout.endswith("3 words of Ada kept.\n")


def test_word_alone_asks_at_a_terminal_and_shows_its_help_in_a_pipe(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_listeners(book, "Ada")
    types(monkeypatch, "bright", "")
    assert "1 word of Ada kept." in earwitness(book, "word").stdout
    pipes(monkeypatch, "thin")
    assert "Commands:" in earwitness(book, "word").stdout
    assert len(said(book)) == 1


def test_lines_come_through_a_pipe_and_a_wrong_one_says_where_it_stands(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_listeners(book, "Ada")
    pipes(monkeypatch, "bright 2", "dull 7", "thin")
    done = earwitness(book, "word", "log")
    assert done.returncode == 2
    assert "line 2: strength 7 is out of range" in done.stderr
    assert "1 word before it kept" in done.stderr
    pipes(monkeypatch, "thin")
    given = json.loads(earwitness(book, "word", "log", "--json").stdout)
    assert [one["term"] for one in given["words"]] == ["thin"]
    assert [word[0] for word in said(book)] == ["bright", "thin"]


def test_lists_show_the_identifier_that_a_correction_needs(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_listeners(book, "Ada")
    pipes(monkeypatch)
    earwitness(book, "word", "log", "Britgh", "--setup", "sallow")
    [(_, identifier)] = [
        (line, part) for line in earwitness(book, "word", "list").stdout.splitlines() for part in line.split()
        if part.startswith("word-")
    ]  # fmt: skip
    earwitness(book, "word", "log", "Bright", "--setup", "sallow", "--corrects", identifier)
    assert [word[0] for word in said(book)] == ["Bright"]


def test_a_search_finds_every_form_and_says_each_word_as_it_was_typed(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_listeners(book, "Ada")
    pipes(monkeypatch, "Brighter", "BRIGHTNESS 5", "Métallique", "light")
    earwitness(book, "word", "log")
    found = json.loads(earwitness(book, "word", "search", "bright", "--json").stdout)["words"]
    assert [one["term"] for one in found] == ["Brighter", "BRIGHTNESS"]
    assert "Métallique" in earwitness(book, "word", "search", "METALLIQUE").stdout
    assert earwitness(book, "word", "search", "boomy").stdout == "No words.\n"


def test_a_summary_counts_by_setup_and_track(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_listeners(book, "Ada", "Bo")
    for who, words in (("Ada", ("Bright", "thin")), ("Bo", ("bright", ".blind", "BRIGHT"))):
        pipes(monkeypatch, *words)
        earwitness(book, "word", "log", "--listener", who, "--setup", "sallow", "--track", "drums")
    given = json.loads(earwitness(book, "word", "summary", "--json").stdout)
    (bright, thin), of_track = given["setups"]["sallow"], given["tracks"]["drums"]
    assert (bright["word"], bright["times"], bright["by"]) == ("Bright", 3, {"Ada": 1, "Bo": 2})
    assert bright["how"] == {"in a blind trial": 0, "said to be blind": 1, "sighted": 2}
    assert (thin["word"], thin["times"]) == ("thin", 1)
    assert of_track == [bright, thin]
    shown = earwitness(book, "word", "summary").stdout
    assert "Of sallow\n  word " in shown
    assert "Ada 1, Bo 2" in shown


def test_the_help_says_how_the_moment_of_a_word_is_heard_again(book: Path) -> None:
    for command in (["word"], ["word", "list"]):
        assert "the key r" in " ".join(earwitness(book, *command, "--help").stdout.split())


def test_a_list_without_notes_has_no_column_for_them_and_a_bare_profile_says_what_to_type(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_listeners(book, "Ada")
    pipes(monkeypatch)
    earwitness(book, "word", "log", "bright", "--setup", "sallow")
    assert earwitness(book, "word", "list").stdout.splitlines()[0].split()[-1] == "id"
    earwitness(book, "word", "log", "thin", "--setup", "sallow", "--note", "hats")
    assert earwitness(book, "word", "list").stdout.splitlines()[0].split()[-1] == "note"
    told = earwitness(book, "word", "profile", "bracken").stdout
    assert "Nothing was said of bracken yet: earwitness" in told
    assert "word log WORD --setup bracken --track NAME" in told
