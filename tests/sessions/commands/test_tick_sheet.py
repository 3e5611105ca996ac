"""The ballot at the listening screen: keys, what is kept, and the page at 80 columns and 24 lines."""

from __future__ import annotations

import json

import pytest

from audio.engine.playback import Position
from sessions.casebook.store import Casebook
from sessions.chair.sheets import GivenTicks
from sessions.commands import chair_page
from sessions.commands.chair_page import Page
from sessions.commands.chair_rows import Shown, blocks
from sessions.commands.rating_sheet import NOTHING_PLAYS as NOTHING_RATED
from sessions.commands.rating_sheet import RatingSheet
from sessions.commands.tick_sheet import NOTHING_PLAYS, TickSheet
from sessions.commands.window_text import MARGIN, lines_needed, room, stacked
from sessions.listening import session
from sessions.listening.now import Now
from sessions.listening.trial_runner import TrialRunner
from sessions.plans.methods.rated_ballot import RATED_BALLOT
from sessions.plans.methods.word_ballot import WORD_BALLOT
from tests.answered_plans import sealed_plan
from tests.fakes import SilentPlayer, at_once

TWELVE = (
    "bright",
    "dull",
    "boomy",
    "thin",
    "wide",
    "narrow",
    "near",
    "distant",
    "dry",
    "reverberant",
    "harsh",
    "smooth",
)


def lines_of(sheet: TickSheet, width: int = 80) -> list[str]:
    now = Now(3, 32, "2", "strings 1", 2.0, 10.0, None, False, frozenset({"1"}), False)
    page = blocks(
        Shown("words evening", sheet.method.default_question, sheet.method, now, Page(sheet=sheet)), room(width)
    )
    assert lines_needed(page) <= 24
    lines = []
    for row in stacked(page, 24):
        line = ""
        for span in row:
            line = line.ljust(MARGIN + span.column) + span.text
        assert len(line) < width
        lines.append(line.rstrip())
    return lines


def test_the_ballot_shows_both_boxes_of_every_word_in_the_order_drawn() -> None:
    sheet = TickSheet(WORD_BALLOT.with_words(TWELVE))
    for key, playing in (("down", "2"), (" ", "2"), ("end", "1"), (" ", "1"), ("up", "1")):
        assert sheet.turn(key, playing) == ""
    lines = lines_of(sheet)
    text = "\n".join(lines)
    assert "1: heard" in text
    assert "2: on" in text
    assert "[ ] [x] dull" in text
    assert "[x] [ ] smooth" in text
    assert text.count("[ ]") == 22
    assert "> [ ] [ ] harsh" in text
    first = next(line for line in lines if " bright" in line)
    assert first.index("wide") < first.index("dry")  # down the columns: 1 to 4, 5 to 8, 9 to 12
    assert "space: tick it for what you hear" in text
    assert "p: pause" in text


def test_up_and_down_move_up_and_down_on_the_screen_however_wide_it_is() -> None:
    four = ("bright", "dull", "boomy", "wide")
    for sheet in (TickSheet(WORD_BALLOT.with_words(four)), RatingSheet(RATED_BALLOT.with_words(four))):
        lines = lines_of(sheet, 220)
        places = [next((n, line.index(word)) for n, line in enumerate(lines) if f"] {word}" in line) for word in four]
        first, column = places[0]
        assert places == [(first + n, column) for n in range(4)]


def test_a_second_tick_takes_the_first_away_and_the_list_ends_at_its_ends() -> None:
    sheet = TickSheet(WORD_BALLOT.with_words(("bright", "dull")))
    for key in ("up", " ", "down", "down", " ", " "):
        sheet.turn(key, "1")
    assert json.loads(sheet.answer()) == {"1": ["bright"], "2": []}
    assert sheet.turn(" ", None) == NOTHING_PLAYS
    assert sheet.turn("s", "1") is None


def test_ticks_belong_to_what_is_heard_both_must_be_heard_and_none_is_an_answer(casebook: Casebook) -> None:
    sealed_plan(casebook, method="words", words=TWELVE, trials=3)
    player = SilentPlayer()
    with session.begin(casebook, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        runner.offer()
        page = chair_page.fresh(runner, "")

        def press(*keys: str) -> Page:
            nonlocal page
            for key in keys:
                page = chair_page.turned(key, runner, page, lambda *_: True)
            return page

        assert press(" ").message == NOTHING_PLAYS
        press("1")
        player.at = Position(0, 100, True)
        runner.now()
        press(" ", "down")
        assert press("enter").message == "hear 2 before you answer"
        press("2")
        player.at = Position(1, 100, True)
        press(" ")
        assert press("enter").asking == "sureness"
        assert press("3").asking == "done"
        shown = runner.method.shown  # type: ignore[attr-defined]
        assert runner.offer() is not None
        page = chair_page.fresh(runner, "")
        for label, at in (("1", 0), ("2", 1)):
            press(label)
            player.at = Position(at, 100, True)
            runner.now()
        press("enter", "1")
    kept = [json.loads(row["answer"]) for row in casebook.query("SELECT answer FROM answers ORDER BY seq")]
    assert kept == [{"1": [shown[0]], "2": [shown[1]]}, {"1": [], "2": []}]


@pytest.mark.parametrize("key", ["p", "P"])
def test_p_pauses_where_the_space_bar_ticks(casebook: Casebook, key: str) -> None:
    sealed_plan(casebook, method="words", words=TWELVE, trials=3)
    with session.begin(casebook, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, SilentPlayer(), sleep=at_once)
        runner.offer()
        page = chair_page.turned("1", runner, chair_page.fresh(runner, ""), lambda *_: True)
        chair_page.turned(key, runner, page, lambda *_: True)
        assert runner.now().paused


def test_digits_rate_the_word_for_what_is_heard_and_the_space_bar_plays_the_other() -> None:
    sheet = RatingSheet(RATED_BALLOT.with_words(TWELVE))
    assert sheet.turn("3", None) == NOTHING_RATED
    assert (sheet.next_after(None), sheet.next_after("1"), sheet.next_after("2")) == ("1", "2", "1")
    for key, playing in (("7", "1"), ("2", "1"), ("down", "1"), ("0", "2"), ("9", "1")):
        assert sheet.turn(key, playing) == ""
    assert sheet.turn(" ", "1") is None
    text = "\n".join(lines_of(sheet))
    assert "[2] [ ] bright" in text  # the second digit took the place of the first
    assert "> [9] [0] dull" in text
    assert "0 to 9: rate it for what you hear" in text
    assert "space: hear 1 and 2 in turn" in text
    assert sheet.lacking() == "rate boomy and 9 more of 1 as well: 0 is not at all"
    sheet = RatingSheet(RATED_BALLOT.with_words(("bright", "dull")))
    for label in "12":
        for key in ("home", label, "down", "5"):
            sheet.turn(key, label)
    assert sheet.lacking() == ""
    assert json.loads(sheet.answer()) == {"1": {"bright": 1, "dull": 5}, "2": {"bright": 2, "dull": 5}}


def test_ratings_at_the_chair_are_kept_once_both_were_heard_and_all_words_rated(casebook: Casebook) -> None:
    sealed_plan(casebook, method="words", words=("bright", "dull"), trials=10, rated=True)
    player = SilentPlayer()
    with session.begin(casebook, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        runner.offer()
        page = chair_page.fresh(runner, "")

        def press(*keys: str) -> Page:
            nonlocal page
            for key in keys:
                page = chair_page.turned(key, runner, page, lambda *_: True)
            return page

        assert press("1").message == NOTHING_RATED
        press(" ")
        player.at = Position(0, 100, True)
        assert runner.now().playing == "1"
        press("1", "down", "2")
        assert press("enter").message == "hear 2 before you answer"
        press(" ")
        player.at = Position(1, 100, True)
        assert runner.now().playing == "2"
        press("3")
        assert "as well" in press("enter").message
        press("home", "4")
        assert press("enter").asking == "sureness"
        assert press("3").asking == "done"
        first, second = runner.method.shown  # type: ignore[attr-defined]
    (kept,) = [json.loads(row["answer"]) for row in casebook.query("SELECT answer FROM answers")]
    assert kept == {"1": {first: 1, second: 2}, "2": {first: 4, second: 3}}


def test_a_trial_in_which_nothing_is_ticked_is_not_called_ticks() -> None:
    given = GivenTicks(WORD_BALLOT.with_words(TWELVE))
    assert given.said == "No word is ticked"
    given.given["1"].add("bright")
    assert given.said == "Your ticks"
