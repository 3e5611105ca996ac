"""The keys and the page of free listening, at a silent player."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from audio.engine.playback import Position
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Passage, Setup
from sessions.casebook.store import Casebook
from sessions.commands import keyboard
from sessions.commands.free_page import FreePage, place_words
from sessions.errors import CatalogueError
from sessions.listening import free_listening, free_sounds
from sessions.listening.free_listening import FreeListening, Shown
from sessions.listening.free_sounds import FreeSounds, Stretch
from sessions.listening.words_said_here import said_here
from sessions.words import log
from tests.fakes import SilentPlayer

RATE_HZ = 48_000


@pytest.fixture
def player() -> SilentPlayer:
    return SilentPlayer()


@pytest.fixture
def page(casebook: Casebook, player: SilentPlayer) -> Iterator[FreePage]:
    setups = tuple(catalogue.find(casebook, Setup, name) for name in ("sallow", "bracken"))
    stretches = [free_sounds.of_passage(casebook, one) for one in catalogue.everything(casebook, Passage)]
    ready = {one.name: free_sounds.ready(casebook, setups, one) for one in stretches}
    with free_listening.begin(casebook, catalogue.listener_named(casebook, "Ada"), setups, "none: test") as begun:
        listening = FreeListening(begun, player)
        listening.load(ready[stretches[0].name])
        yield FreePage(listening, stretches, lambda stretch: ready[stretch.name])


def press(page: FreePage, *keys: str) -> None:
    for key in keys:
        page.turn(key)


@pytest.mark.parametrize(("key", "asked"), [("a", "play 0"), ("B", "play 1"), ("1", "play 0"), ("2", "play 1")])
def test_letters_and_numbers_switch_as_in_a_trial(page: FreePage, player: SilentPlayer, key: str, asked: str) -> None:
    press(page, key)
    assert player.asked == [asked]


def test_a_key_of_no_setup_does_nothing(page: FreePage, player: SilentPlayer) -> None:
    press(page, "c", "3", "0", "é", keyboard.UP)
    assert player.asked == []


def test_a_word_belongs_to_the_moment_of_its_key_and_the_music_goes_on(
    page: FreePage, player: SilentPlayer, casebook: Casebook
) -> None:
    press(page, "b")
    player.at = Position(1, RATE_HZ, True)
    press(page, "w")
    start_s = page.stretches[0].start_s
    assert page.what_keys_do()[0] == f"A word for bracken at 0:{start_s + 1:06.3f}: _"
    player.at = Position(0, 2 * RATE_HZ, True)
    press(page, *"Zu b", keyboard.BACKSPACE, *"hell", keyboard.ENTER, "7", "5")
    (word,) = log.words(casebook)
    assert (word.term, word.strength, word.setup, word.track_ms) == (
        "Zu hell", 5, "bracken", round(1000 * start_s) + 1000,
    )  # fmt: skip
    assert page.words == [f"Zu hell 5: bracken, 0:{start_s + 1:06.3f}"]
    assert page.message == "kept the word: Zu hell"
    assert player.asked == ["play 1"]


def test_a_word_takes_the_strength_and_the_note_that_are_typed_with_it(
    page: FreePage, player: SilentPlayer, casebook: Casebook
) -> None:
    press(page, "a", "w", *"bright 2 (hats)", keyboard.ENTER, "w", *"thin (brass", keyboard.ENTER)
    assert "brackets" in page.message
    assert page.asking == "word"
    press(page, ")", keyboard.ENTER, keyboard.ENTER, "w", *"dull", keyboard.ENTER, "4")
    found = [(word.term, word.strength, word.note) for word in log.words(casebook)]
    assert found == [("bright", 2, "hats"), ("thin", 3, "brass"), ("dull", 4, "")]


def test_enter_takes_the_usual_strength_and_escape_keeps_nothing(
    page: FreePage, player: SilentPlayer, casebook: Casebook
) -> None:
    press(page, "a", "w", *"thin", keyboard.ENTER, keyboard.ENTER)
    press(page, "w", *"dull", keyboard.ESCAPE, "w", *"dull", keyboard.ENTER, keyboard.ESCAPE, "w", keyboard.ENTER)
    assert [(word.term, word.strength) for word in log.words(casebook)] == [("thin", 3)]
    assert page.asking == "hear"


def test_a_word_needs_something_that_sounds(page: FreePage) -> None:
    press(page, "w")
    assert page.asking == "hear"
    assert "play something first" in page.message


def test_letters_are_letters_while_a_word_is_typed(page: FreePage, player: SilentPlayer) -> None:
    press(page, "a", "w", *"quick bass, planned")
    assert page.typed.text == "quick bass, planned"
    assert player.asked == ["play 0"]


def test_a_loop_has_the_keys_of_a_trial(page: FreePage, player: SilentPlayer) -> None:
    press(page, "a")
    player.at = Position(0, 3 * RATE_HZ // 2, True)
    press(page, "o")
    player.at = Position(0, RATE_HZ // 2, True)
    press(page, "I")
    assert player.asked[-1] == f"loop {RATE_HZ // 2} {3 * RATE_HZ // 2}"
    assert (page.message, "loop from" in page.lines()[2]) == ("", True)
    player.at = Position(0, 3 * RATE_HZ // 2 - 1, True)
    press(page, "i")
    assert "a loop has 0.5 s at least" in page.message
    press(page, "u")
    assert page.listening.now().loop is None
    assert player.asked[-1] == f"loop 0 {page.listening.loaded.frames}"


def test_the_next_passage_goes_on_with_the_setup_that_was_heard(page: FreePage, player: SilentPlayer) -> None:
    press(page, "b", "n")
    assert page.asking == "next"
    page.bring()
    assert (page.place, page.asking, player.asked[-1]) == (1, "hear", "play 1")
    assert page.lines()[1].startswith(page.stretches[1].words)
    press(page, "n")
    page.bring()
    assert page.place == 0  # round again
    press(page, "p")
    page.bring()
    assert page.place == 1


def test_a_passage_that_cannot_be_made_ready_says_so_and_the_one_before_stays(
    page: FreePage, player: SilentPlayer
) -> None:
    def refused(stretch: Stretch) -> FreeSounds:
        raise CatalogueError(f"the file of {stretch.name} was changed")

    page.prepare = refused
    press(page, "a", "n")
    page.bring()
    assert (page.place, page.asking) == (0, "hear")
    assert "was changed" in page.message
    assert page.lines()[1].startswith(page.stretches[0].words)


def test_nothing_is_hidden_and_the_levels_are_told(page: FreePage, player: SilentPlayer) -> None:
    press(page, "b")
    assert page.setups() == [("a  sallow", False), ("b  bracken", True)]
    assert page.lines()[0] == "Free listening, sighted: nothing of it counts; levels within 0.00 LU"


@pytest.mark.parametrize(
    ("now", "words"),
    [
        (Shown(0, 0, 2.5, 2.0, 8.0, False, None), "0:02.500   of 0:02.000 to 0:08.000"),
        (Shown(None, None, 2.0, 2.0, 8.0, False, None), "silent at 0:02.000   of 0:02.000 to 0:08.000"),
        (Shown(None, 0, 62.0, 2.0, 80.0, True, None), "paused at 1:02.000   of 0:02.000 to 1:20.000"),
        (
            Shown(0, 0, 3.0, 2.0, 8.0, False, (2.5, 4.0)),
            "0:03.000   of 0:02.000 to 0:08.000, loop from 0:02.500 to 0:04.000",
        ),
    ],
)
def test_the_place_in_the_music_is_told_in_the_tracks_time(now: Shown, words: str) -> None:
    assert place_words(now) == words


def test_one_key_plays_the_moment_of_the_last_word_and_then_of_those_before(
    page: FreePage, player: SilentPlayer, casebook: Casebook
) -> None:
    setups = page.listening.session.setups
    page.recall = lambda stretch: said_here(casebook, setups, stretch)
    press(page, "r")
    assert "no word was said" in page.message
    stretch = page.listening.loaded.stretch
    begin_ms = round(1000 * stretch.start_s)
    ada = catalogue.listener_named(casebook, "Ada")
    for term, place, at_ms in (("dull", 0, 2250), ("bright", 1, 2750), ("outside", 1, round(1000 * stretch.length_s))):
        log.log(
            casebook,
            ada,
            log.Word(term, 4, begin_ms + at_ms, setup_id=setups[place].id, track_id=stretch.track.id),
        )
    log.log(casebook, ada, log.Word("said of the whole", 4, setup_id=setups[0].id, track_id=stretch.track.id))
    player.asked.clear()
    told = []
    for _ in range(3):
        press(page, "r")
        told.append(page.message)
    assert [one.split(":")[0] for one in told] == ["word 1 of 2", "word 2 of 2", "word 1 of 2"]
    assert ("bright 4: bracken" in told[0], "dull 4: sallow" in told[1]) == (True, True)
    rate_hz = page.listening.loaded.rate_hz
    assert player.asked == [
        f"play {setup} from {round(seconds * rate_hz)}" for setup, seconds in ((1, 0.75), (0, 0.25), (1, 0.75))
    ]
    press(page, "a", "r")
    assert "word 1 of 2" in page.message
