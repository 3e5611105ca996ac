"""The command `hearing`: its pages, its terminal with the engine's process, its lists, and where its runs are told."""

from __future__ import annotations

import json
import os
import re
import shlex
import sys
from collections.abc import Iterator
from pathlib import Path
from random import Random

import numpy as np
import pytest

from audio.engine.playback import Faults
from audio.errors import DeviceError
from sessions.casebook import catalogue, hearing_rows
from sessions.casebook.catalogue import Listener
from sessions.casebook.store import Casebook, open_casebook
from sessions.commands import hearing as hearing_command
from sessions.commands import hearing_told, keyboard, threshold_page
from sessions.commands.hearing_level_page import HearingLevelPage
from sessions.commands.threshold_page import ThresholdPage
from sessions.listening import threshold_run
from sessions.listening.hearing_sounds import SetLevel, levels_dbfs, made
from sessions.listening.threshold_listening import ThresholdListening
from tests.answered_plans import answer_all, sealed_plan
from tests.casebooks import rewritten
from tests.command_line import earwitness
from tests.fakes import SilentPlayer, at_once
from tests.sessions.results.test_learned_words import kept_book
from tests.terminal import Terminal

ROOT = Path(__file__).parents[3]


def kept_run(casebook: Casebook, *, ends_hz: int = 13_500, most: int = 100, spl_db: float | None = None) -> str:
    """A run of Ada, who is right of all tones up to one and of a third of those above; its identifier."""
    ada = catalogue.named(casebook, Listener, "Ada") or catalogue.add_listener(casebook, "Ada")
    sought = made(SetLevel(-44.0, spl_db), "box", 48_000).sought
    with threshold_run.begin(casebook, ada, None, sought, anew=True, draw=Random(15).randrange) as run:
        while run.answered < most and (trial := run.next_trial()) is not None:
            right = sought.tones_hz[trial.size] <= ends_hz or run.answered % 3 == 0
            run.answering(trial, trial.changed if right else (trial.changed + 1) % 3, 900, [1, 1, 1])()
    return run.kept.id


class TestLevelPage:
    @pytest.fixture
    def page(self) -> HearingLevelPage:
        self.now, self.player, levels = 0.0, SilentPlayer(), levels_dbfs()
        sounds = np.zeros((len(levels), 48, 1), dtype=np.float32)
        made_page = HearingLevelPage(self.player, sounds, levels, 48_000, "a run", monotonic=lambda: self.now)
        assert made_page.place_words() == ""  # no tone is told before it sounds
        made_page.bring()
        assert made_page.place_words() == "1 kHz, again and again, at -74 dBFS"
        return made_page

    def up(self, page: HearingLevelPage, times: int) -> None:
        for _ in range(times):
            self.now += 1.1
            page.turn("+")

    def test_it_begins_at_the_quietest_and_goes_up_one_small_step_a_second_however_often_a_key_comes(
        self, page: HearingLevelPage
    ) -> None:
        assert self.player.asked == ["play 0 from 0"]
        for tenth in range(32):  # a key that is held, ten times a second
            self.now = tenth / 10
            page.turn("+")
        assert page.place == 3
        assert self.player.asked[-1] == "play 3 from 0"
        page.turn("-")  # down at once
        assert page.place == 2

    def test_it_ends_at_the_limit_of_the_file_and_at_none_that_a_meter_reads_above_70_db(
        self, page: HearingLevelPage
    ) -> None:
        self.up(page, 30)
        assert page.levels_dbfs[page.place] == -20
        assert "this is the most" in page.message
        for reading, says in (("70.1", "above 70 dB SPL"), ("7", "a meter reads no 7 dB")):
            for letter in reading:
                page.turn(letter)
            self.now += 1.1
            page.turn(keyboard.ENTER)
            assert (page.ended, says in page.message) == (False, True)
            for _ in reading:
                page.turn(keyboard.BACKSPACE)
        for letter in "62":
            page.turn(letter)
        assert "a meter reads 62 dB" in page.place_words()
        page.turn("-")
        assert "meter" not in page.place_words()  # it was read at another level
        self.now += 0.5
        page.turn(keyboard.ENTER)
        assert not page.ended  # this level has not sounded yet
        self.now += 1.1
        page.turn(keyboard.ENTER)
        assert (page.level, self.player.asked[-1]) == (SetLevel(-23.0, None), "stop")

    def test_a_run_that_is_taken_up_ends_at_its_own_level_alone(self, page: HearingLevelPage) -> None:
        page.until = 2
        self.now += 1.1
        page.turn(keyboard.ENTER)
        assert "begun at -68 dBFS" in page.message
        self.up(page, 5)
        assert (page.place, page.level) == (2, None)
        self.now += 1.1
        page.turn(keyboard.ENTER)
        assert page.level == SetLevel(-68.0)

        assert "Go up with + to -68 dBFS" in page.asked()

    def test_the_cautions_stand_until_the_volume_is_said_to_be_down_and_before_that_nothing_sounds(self) -> None:
        player, levels, sounds = SilentPlayer(), levels_dbfs(), np.zeros((3, 48, 1), dtype=np.float32)
        page = HearingLevelPage(player, sounds, levels, 48_000, "a run", cautions=hearing_told.CAUTIONS)
        assert page.what_keys_do() == ["One moment."]  # no tone is on its way to who reads first
        for key in (None, "+", " ", keyboard.ESCAPE, "y"):
            if key:
                page.turn(key)
            elif page.brings:
                page.bring()
            page.poll()
            assert (page.brings, player.asked, page.messages()) == (False, [], [*hearing_told.CAUTIONS])
        assert "Enter: the volume is down" in page.what_keys_do()
        page.turn(keyboard.ENTER)
        assert page.brings
        page.bring()
        assert (page.asking, player.asked) == ("level", ["play 0 from 0"])
        assert page.messages()[-1].startswith("Turn the volume down first.")
        left = HearingLevelPage(player, sounds, levels, 48_000, "a run", cautions=hearing_told.CAUTIONS)
        left.bring()
        left.turn("q")
        assert (left.ended, left.level) == (True, None)

    def test_leaving_is_asked_and_gives_no_level(self, page: HearingLevelPage) -> None:
        page.turn("q")
        page.turn("x")
        assert page.asking == "level"
        page.leave()
        page.turn("y")
        assert (page.ended, page.level, self.player.asked[-1]) == (True, None, "stop")

    def test_a_lost_device_is_waited_for_and_the_tone_begins_at_the_quietest_again(
        self, page: HearingLevelPage, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        self.up(page, 4)
        self.player.counts = Faults(stalls=1)
        page.poll()

        def lost(*_: object) -> None:
            raise DeviceError("no device")

        with monkeypatch.context() as gone:
            gone.setattr(self.player, "load", lost)
            page.bring()
            assert (page.asking, page.brings, page.messages()) == ("device", False, ["no device"])
        self.now += 10
        assert page.brings
        page.bring()
        page.poll()
        assert (page.asking, page.place, self.player.asked[-1]) == ("level", 0, "play 0 from 0")


def test_nothing_on_the_page_depends_on_where_the_tone_is(casebook: Casebook) -> None:
    ada, sounds, player = catalogue.add_listener(casebook, "Ada"), made(SetLevel(-44.0), "box", 48_000), SilentPlayer()
    shown = []
    with threshold_run.begin(casebook, ada, None, sounds.sought) as run:
        listening = ThresholdListening(run, player, sounds, sleep=at_once)
        words = threshold_page.Wording(hearing_command.ASKED, "this one holds the tone", music=False)
        page = ThresholdPage(listening, "a run", message="", words=words, stands=hearing_command.LEAVE_THE_VOLUME)
        for named in "abcab":
            page.bring()
            for key in "abc":
                page.turn(key)
                player.at = player.at.__class__(player.at.stimulus, 40_000, True)
                page.presentations()
            page.turn(keyboard.ENTER)
            shown.append([page.asked(), *page.what_keys_do(), page.place_words(), str(page.presentations())])
            assert page.messages()[-1] == hearing_command.LEAVE_THE_VOLUME  # not until the first key alone
            page.turn(named)
    assert all(one == shown[0] for one in shown)
    assert shown[0][0] == "One of these holds a short high tone; the others are silent. Which one?"
    assert "this one holds the tone; guess if you must" in shown[0][1]


@pytest.fixture
def small() -> Iterator[Terminal]:
    """A terminal of the usual smallest size."""
    opened = Terminal(f"earwitness-hearing-{os.getpid()}", width=80, height=24)
    yield opened
    opened.close()


def test_at_a_small_terminal_the_level_comes_first_then_trials_and_nothing_before(
    casebook: Casebook, small: Terminal
) -> None:
    catalogue.add_listener(casebook, "Ada")
    book = casebook.folder
    casebook.close()
    program = [sys.executable, "-m", "tests.free_evening", "--casebook", str(book), "hearing"]
    small.run(shlex.join(["env", f"PYTHONPATH={ROOT}", *program]))
    small.keys("x")  # only Enter says that the volume is down
    shown = " ".join(small.wait(r"(?s)Enter: the volume is down.*--side both").split())
    assert "Turn the volume down before you begin" in shown
    assert "This is no medical test" in shown
    small.keys("Enter")
    shown = small.wait("digits: what a sound level meter reads")
    assert "Turn the volume down first" in shown
    assert "at -74 dBFS" in shown
    small.wait(r"(?s)at -74 dBFS.*\+: 3 dB up")
    small.keys("+")
    small.keys("Enter")  # at once: neither counts before the tone has sounded
    for _ in range(40):
        small.keys("+")
        if "at -71 dBFS" in small.wait("dBFS"):
            break
    small.keys("Enter")
    for _ in range(40):
        if "trial 1, of 18 to 48" in small.wait("Ada"):
            break
        small.keys("Enter")
    small.wait("a b c: hear")
    small.keys("q")
    asked = " ".join(small.wait("Stop here").split())
    assert hearing_command.LEAVE_THE_VOLUME in asked  # as long as tones may go unheard
    small.keys("y")
    ended = " ".join(small.wait("left with 0").split())
    assert "This is no medical test" in ended
    assert "Stopped after 0 answers" in ended
    with open_casebook(book) as opened:
        [kept] = hearing_rows.every(opened)
        assert (kept.sought.level_dbfs, kept.sought.level_spl_db, kept.sought.side) == (-71, None, "left")


def test_runs_are_listed_and_shown_and_a_stopped_one_tells_nothing(casebook: Casebook) -> None:
    assert "Nobody looked yet" in earwitness(casebook.folder, "hearing", "list").stdout
    stopped, whole, read = kept_run(casebook, most=3), kept_run(casebook), kept_run(casebook, ends_hz=0, spl_db=62.0)
    listed = earwitness(casebook.folder, "hearing", "list").stdout
    assert "stopped after 3 answers" in listed
    assert "not noticed down to 4 kHz" in listed
    told = earwitness(casebook.folder, "hearing", "show", whole).stdout
    assert "on this chain at this level tones were noticed up to 13" in told
    assert "not for their hearing" in told
    assert "-44 dBFS, set quiet by ear: how loud at the ears nobody knows; 48000 Hz" in told
    told = earwitness(casebook.folder, "hearing", "show", read).stdout
    assert "no tone was noticed on this chain at this level, down to 4 kHz, the lowest" in told
    assert "a meter read 62 dB SPL of 1 kHz" in told
    told = earwitness(casebook.folder, "hearing", "show", stopped).stdout
    assert "A run that was stopped tells nothing yet" in told
    runs = json.loads(earwitness(casebook.folder, "hearing", "list", "--json").stdout)["runs"]
    assert [one["id"] for one in runs] == [stopped, whole, read]
    assert (runs[0]["found"], runs[0]["answers"]) == (None, None)
    assert runs[1]["found"]["low_hz"] < runs[1]["found"]["ended_hz"] < runs[1]["found"]["high_hz"]
    assert json.loads(earwitness(casebook.folder, "threshold", "list", "--json").stdout)["thresholds"] == []
    rewritten(casebook, "UPDATE threshold_answers SET named = (changed + 1) % 3 WHERE trial = 2")
    assert "THE RECORD DOES NOT HOLD" in earwitness(casebook.folder, "hearing", "show", whole).stdout


def test_a_run_of_one_habit_holds_for_nothing_and_is_not_said_to(casebook: Casebook) -> None:
    ada, sought = catalogue.add_listener(casebook, "Ada"), made(SetLevel(-44.0), "box", 48_000).sought
    with threshold_run.begin(casebook, ada, None, sought) as run:
        while (trial := run.next_trial()) is not None:
            run.answering(trial, 0, 900, [1, 1, 1])()
    told = earwitness(casebook.folder, "hearing", "show", run.kept.id).stdout
    # how soon a run with one answer ends hangs on where the sound happened to be
    assert re.search(r"answers of one habit: A was named in (\d+) of \1 trials; nothing can be told", told)
    assert "It holds" not in told


def test_what_is_refused_is_said_in_a_line_and_begins_nothing(casebook: Casebook) -> None:
    catalogue.add_listener(casebook, "Ada")
    for words, says in (
        ((), "needs a terminal"),
        (("run", "--setup", "sallow"), "is heard through its recordings"),
        (("run", "--listener", "Adda"), "did you mean 'Ada'?"),
        (("show", "sallow"), "there is no run 'sallow'"),
        (("rehearse", "--ends-at", "5"), "--ends-at 5 is out of range"),
    ):
        done = earwitness(casebook.folder, "hearing", *words)
        assert (done.returncode, says in done.stderr, done.stderr.count("\n")) == (2, True, 1), done.stderr
    assert casebook.query("SELECT * FROM sessions") == []
    done = earwitness(casebook.folder, "hearing", "rehearse", "--ends-at", "12000", "--runs", "2", "--json")
    assert json.loads(done.stdout)["held"] <= 2
    assert casebook.query("SELECT * FROM sessions") == []


def test_crosscheck_and_report_remark_a_word_whose_band_lies_above_and_change_nothing_else(
    casebook: Casebook, tmp_path: Path
) -> None:
    for name, lift_db in (("sallow", 3.0), ("bracken", 0.0)):
        file = tmp_path / f"{name}.txt"
        rows = [f"{hz} {lift_db if hz > 16_000 else 0}" for hz in range(50, 20_500, 10)]
        file.write_text("Hz dB\n" + "\n".join(rows), encoding="utf-8")
        assert earwitness(casebook.folder, "curve", "add", name, str(file)).returncode == 0
    catalogue.add_listener(casebook, "Ada")
    for word in ("airy", "bright"):
        earwitness(casebook.folder, "word", "log", word, "--setup", "sallow", "--listener", "Ada")
    compared = ("crosscheck", "sallow", "bracken")
    before = json.loads(earwitness(casebook.folder, *compared, "--json").stdout)["words"]
    assert [one["remark"] for one in before] == ["", ""]
    kept_run(casebook, ends_hz=11_500)
    after = json.loads(earwitness(casebook.folder, *compared, "--json").stdout)["words"]
    assert [one["outcome"] for one in after] == [one["outcome"] for one in before]
    remarks = {one["word"]["term"]: one["remark"] for one in after}
    assert remarks["airy"].startswith("Ada's own check of 2")
    assert remarks["airy"].endswith("this band lies mostly above it")  # 10 to 20 kHz
    assert remarks["bright"] == ""  # 4 to 8 kHz
    assert f"{remarks['airy']}." in " ".join(earwitness(casebook.folder, *compared).stdout.split())
    page = tmp_path / "report.html"
    assert earwitness(casebook.folder, "report", "--out", str(page)).returncode == 0
    assert "this band lies mostly above it" in page.read_text(encoding="utf-8")


def test_words_and_words_learn_remark_what_lies_above_as_crosscheck_does(casebook: Casebook, tmp_path: Path) -> None:
    sealed_plan(casebook, "ballot", method="words", trials=12, words=("airy", "boomy", "thin", "sizzly"))
    answer_all(casebook, 1.0, plan="ballot")
    ballots = ("words", "--json")
    [before] = json.loads(earwitness(casebook.folder, *ballots).stdout)["pairs"]
    assert before["above_reach"] == []
    kept_run(casebook, ends_hz=6_500)  # airy: 10 to 20 kHz, sizzly: 8 to 16 kHz; thin and boomy lie low
    [after] = json.loads(earwitness(casebook.folder, *ballots).stdout)["pairs"]
    assert after["words"] == before["words"]
    [remark] = after["above_reach"]
    assert re.fullmatch(r"airy, sizzly: Ada's own check of \d.*; this band begins above it\.", remark)
    told = " ".join(earwitness(casebook.folder, "words").stdout.split())
    assert f"Remarked, and it changes nothing: {remark}" in told

    book = kept_book(tmp_path / "learnt", 20, linked=True)  # bright goes with 4 kHz there
    with open_casebook(book) as learnt:
        kept_run(learnt, ends_hz=4_300)
    found = json.loads(earwitness(book, "words", "learn", "--json").stdout)
    assert found["shown"]
    assert [one.partition(":")[0] for one in found["above_reach"]] == ["bright"]
    assert "nothing: bright: Ada's own check of" in " ".join(earwitness(book, "words", "learn").stdout.split())


def test_a_run_that_is_taken_up_names_the_level_that_it_goes_on_at(casebook: Casebook) -> None:
    kept_run(casebook, most=3)
    [before] = hearing_rows.every(casebook)
    said = hearing_told.before_a_run("left", before)
    assert said[: len(hearing_told.CAUTIONS)] == [*hearing_told.CAUTIONS]
    assert "stopped after 3 answers at -44 dBFS, goes on at -44 dBFS; begin quiet again" in said[-1]


def test_the_cautions_say_what_it_is_not_and_never_to_turn_up_for_silence() -> None:
    said = " ".join(hearing_told.CAUTIONS)
    for words in ("no medical test", "see a professional", "Never turn the volume up because you hear nothing"):
        assert words in said
