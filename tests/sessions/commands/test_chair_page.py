"""What a key makes of the page, at a player that plays nothing."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

import pytest

from audio.engine.playback import Faults, Position
from sessions.casebook.store import Casebook
from sessions.commands import chair_page, keyboard
from sessions.commands.chair_page import Page
from sessions.commands.grade_sheet import Sheet
from sessions.commands.line_editor import LineEditor
from sessions.listening import session
from sessions.listening.trial_runner import TrialRunner
from sessions.plans.methods.table import METHODS
from tests.fakes import SilentPlayer, at_once

Kept = list[tuple[str, int, str, int, str]]


class Chair:
    """A runner with its first trial on offer, and the words that were kept."""

    def __init__(self, runner: TrialRunner, player: SilentPlayer) -> None:
        self.runner, self.player = runner, player
        self.kept: Kept = []
        self.page = chair_page.fresh(runner, "")

    def press(self, *keys: str) -> Page:
        for key in keys:
            self.page = chair_page.turned(key, self.runner, self.page, self._keep)
        return self.page

    def _keep(self, *word: object) -> bool:
        self.kept.append(word)  # type: ignore[arg-type]
        return True


@pytest.fixture
def chair(sealed: Casebook) -> Iterator[Chair]:
    player = SilentPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        runner.offer()
        yield Chair(runner, player)


def test_a_word_longer_than_the_log_takes_is_said_to_be_full_and_not_cut_in_silence(chair: Chair) -> None:
    assert chair.press("x", "w", *"n" * 59).message == ""
    assert "60 letters at most" in chair.press("n", "n").message
    chair.press("enter", "4")
    assert [(word, strength, label) for word, strength, label, *_ in chair.kept] == [("n" * 60, 4, "X")]


def test_a_word_in_a_trial_takes_the_strength_and_the_note_that_are_typed_with_it(chair: Chair) -> None:
    chair.press("x", "w", *"bright 2 (hats)", "enter")
    chair.press("w", *"thin (brass)", "enter", "enter")  # at the question of strength: 3, as in free listening
    for wrong, told in (("dull (kick", "brackets"), ("dull @0:10", "is known here"), ("dull 7", "strength 7 is out")):
        assert told in chair.press("w", *wrong, "enter").message
        assert chair.page.asking == "word"  # what was typed stands there still, to be mended
        assert chair.page.line.text == wrong
        chair.press("escape")
    kept = [(word, strength, label, note) for word, strength, label, _, note in chair.kept]
    assert kept == [("bright", 2, "X", "hats"), ("thin", 3, "X", "brass")]


def test_what_is_asked_for_and_does_not_sound_cannot_be_answered(chair: Chair) -> None:
    chair.press("x")
    chair.runner._heard.clear()  # a real player sounds later than it is asked
    chair.player.at = Position(None, 0, False)
    assert chair.press("enter").message == "hear X before you answer"
    chair.player.at = Position(2, 100, True)
    assert chair.press("enter").asking == "answer"


def test_two_keys_set_a_loop_and_a_third_ends_it(chair: Chair) -> None:
    passage = chair.runner.current.passage
    rate, frames = passage.rate_hz, passage.frames
    chair.press("x")
    for key, frame in (("i", rate), ("o", 2 * rate + 1), ("o", rate + 9), ("I", 2 * rate)):
        chair.player.at = Position(2, frame, True)
        too_short = (key, frame) in (("o", rate + 9), ("I", 2 * rate))
        assert ("0.5 s at least" in chair.press(key).message) is too_short
    assert chair.runner.now().loop_s == (1.0, (2 * rate + 1) / rate)
    chair.press("u")
    assert chair.runner.now().loop_s is None
    loops = [asked for asked in chair.player.asked if asked.startswith("loop")]
    assert loops == [f"loop {rate} {frames}", f"loop {rate} {2 * rate + 1}", f"loop 0 {frames}"]


@pytest.mark.parametrize("asking", ["device", "busy", "disturbed"])
def test_no_key_but_its_own_does_anything_while_no_trial_is_there(chair: Chair, asking: str) -> None:
    chair.page = Page(asking=asking)  # type: ignore[arg-type]
    for key in ("a", "x", "3", "y", " ", "w", "escape", "up"):
        assert chair.press(key).asking == asking
    assert chair.player.asked == []
    assert chair.press("Q").asking == "stop"


def test_a_fault_while_a_word_is_typed_brings_the_trial_again_once_the_word_is_kept(chair: Chair) -> None:
    chair.press("x", "w", "h")
    chair.player.counts = Faults(underruns=1)
    assert chair.runner.poll() is not None
    assert chair.press("i", "enter").asking == "strength"
    done = chair.press("2")
    assert (done.asking, done.message) == ("done", "kept the word: hi")
    assert chair.kept[0][:3] == ("hi", 2, "X")


def test_a_refused_grade_is_told_and_typed_anew() -> None:
    sheet = Sheet(METHODS["hidden-reference"])
    page = chair_page.Page(asking="grade", belongs_to="1", sheet=sheet, line=LineEditor("9", 6))
    page = chair_page._grade_turn(keyboard.ENTER, page)
    assert (page.asking, page.line.text) == ("grade", "")
    assert page.message.startswith("9 is no grade")
    page.sheet = sheet
    for key in ("4", keyboard.ENTER):
        page = chair_page._grade_turn(key, page)
    assert page.asking == "hear"
    assert sheet.given == {"1": Decimal("4.0")}
