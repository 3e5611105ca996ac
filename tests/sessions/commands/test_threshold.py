"""The command `threshold`: at a real terminal with the engine's process, its lists, its rehearsals, its refusals."""

from __future__ import annotations

import json
import os
import re
import shlex
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import click
import pytest

from audio.engine import devices
from audio.engine.devices import Playable
from audio.engine.playback import Faults
from audio.errors import DeviceError
from sessions.casebook import catalogue, playback_chain, threshold_rows
from sessions.casebook.catalogue import Listener, Setup
from sessions.casebook.store import Casebook, open_casebook
from sessions.casebook.threshold_rows import KeptThreshold, Sought
from sessions.commands import asked_device, kept_run_told, keyboard, threshold_told
from sessions.commands import threshold as threshold_command
from sessions.commands.threshold_page import ThresholdPage
from sessions.errors import CasebookBusy, CasebookError, CasebookFull
from sessions.listening import players, threshold_run
from sessions.listening.threshold_listening import ThresholdListening
from sessions.listening.threshold_sounds import Band, of_noise
from sessions.measured import own_thresholds
from sessions.results import verification
from tests.casebooks import chain_holds, rewritten
from tests.command_line import earwitness
from tests.fakes import SilentPlayer, at_once
from tests.terminal import Terminal

SOUNDS = {"a": r"\n +▲ on", "b": r"heard +▲ on", "c": r"heard +heard +▲ on"}
ROOT = Path(__file__).parents[3]
FIND = ("threshold", "find", "--setup", "sallow", "--passage", "drums 1", "--level")


def command(book: Path, *arguments: str) -> str:
    program = [sys.executable, "-m", "tests.free_evening", "--casebook", str(book), *arguments]
    return shlex.join(["env", f"PYTHONPATH={ROOT}", *program])


@pytest.fixture
def small() -> Iterator[Terminal]:
    """A terminal of the usual smallest size."""
    opened = Terminal(f"earwitness-threshold-{os.getpid()}", width=80, height=24)
    yield opened
    opened.close()


def hear_and_name(small: Terminal, letter: str) -> None:
    for one in "abc":
        small.keys(one)
        small.wait(SOUNDS[one])
    small.keys("Enter")
    small.wait("this one is the other")
    small.keys(letter)


def test_a_run_at_a_small_terminal_is_heard_answered_and_stopped(casebook: Casebook, small: Terminal) -> None:
    catalogue.add_listener(casebook, "Ada")
    book = casebook.folder
    casebook.close()
    small.run(command(book, *FIND, "--anew"))
    shown = small.wait("a b c: hear")
    assert "trial 1, of 18 to 48" in shown
    assert "Start quiet" in shown
    small.keys("Enter")
    small.wait("hear A and B and C before you answer")
    hear_and_name(small, "b")
    small.wait(r"trial 2, of 18(?s:.*)a b c: hear(?s:.*)kept")
    small.keys("q")
    small.wait("Stop here")
    small.keys("y")
    ended = small.wait("left with 0")
    assert re.search(
        r"Stopped after 1 answer, kept; to take it up: earwitness --casebook \S+ threshold find --setup "
        r"sallow --passage 'drums 1' --level (?!--anew)",
        " ".join(ended.split()),
    )
    with open_casebook(book) as opened:
        [kept] = threshold_rows.every(opened)
        [answer] = kept.answers
        assert (answer.named, kept.complete, kept.sought.passage) == (1, False, "drums 1")
        [row] = opened.query("SELECT heard FROM threshold_answers")
        assert min(json.loads(row["heard"])) > 0
        what = [one["what"] for one in opened.query("SELECT what FROM session_marks ORDER BY seq")]
        assert what == ["begun", "stopped"]
        assert chain_holds(opened)


def kept_run(casebook: Casebook, *, complete: bool = True) -> str:
    """A run of Ada on sallow who notices 1.4 dB and more; its identifier."""
    ada = catalogue.named(casebook, Listener, "Ada") or catalogue.add_listener(casebook, "Ada")
    sought = of_noise(Band(5657, 1.0), "box", None).sought
    with threshold_run.begin(casebook, ada, catalogue.find(casebook, Setup, "sallow"), sought, anew=True) as run:
        trials = 0
        while (trial := run.next_trial()) is not None and (complete or trials < 3):
            trials += 1
            right = sought.sizes_db[trial.size] >= 1.4 or trials % 3 == 0
            run.answering(trial, trial.changed if right else (trial.changed + 1) % 3, 900, [1, 1, 1])()
    return run.kept.id


def test_what_was_found_is_listed_and_shown_and_a_stopped_run_tells_nothing(casebook: Casebook) -> None:
    assert "No threshold was looked for yet" in earwitness(casebook.folder, "threshold", "list").stdout
    stopped, whole = kept_run(casebook, complete=False), kept_run(casebook)
    listed = earwitness(casebook.folder, "threshold", "list").stdout
    assert "stopped after 3 answers" in listed
    assert "more of the octave around 5657 Hz" in listed
    shown = earwitness(casebook.folder, "threshold", "show", whole)
    assert "noticed from 1." in shown.stdout
    assert "It holds for this listener, music, chain and level" in shown.stdout
    [(at_middle, mean)] = re.findall(r"octave around 5657 Hz.* (1\.\d\d) dB, .* dB  +(\d\.\d\d) dB\n", listed)
    # a bell of half its height at the ends of an octave: the mean of 2^-(2x)^2, x from -1/2 to 1/2, by hand 0.810
    assert 0.70 < float(mean) / float(at_middle) < 0.85
    assert f"In the mean of the band that is {mean} dB, which crosscheck judges by" in " ".join(shown.stdout.split())
    assert "Noticed from: the size at the band's middle" in listed
    found = json.loads(earwitness(casebook.folder, "threshold", "list", "--json").stdout)["thresholds"]
    assert [one["id"] for one in found] == [stopped, whole]
    assert (found[0]["found"], found[0]["answers"]) == (None, None)  # nobody reads how they did before the end
    assert found[1]["found"]["low"] < 1.4  # always noticed
    assert found[1]["found"]["high"] > 1.0  # the next smaller one, guessed
    told = earwitness(casebook.folder, "threshold", "show", stopped).stdout
    assert "stopped after 3 answers. A run that was stopped tells nothing yet" in told
    refused = earwitness(casebook.folder, "threshold", "show", "willow")
    assert (refused.returncode, "there is no run 'willow'" in refused.stderr) == (2, True)


@pytest.mark.parametrize(("right", "says"), [(True, "noticed at 0.1 dB already"), (False, "not noticed up to 3 dB")])
def test_who_notices_all_or_nothing_is_told_so(casebook: Casebook, right: bool, says: str) -> None:
    ada, sought = catalogue.add_listener(casebook, "Ada"), of_noise(None, "box", 74.0).sought
    with threshold_run.begin(casebook, ada, None, sought) as run:
        while (trial := run.next_trial()) is not None:
            named = trial.changed if right or run.answered % 3 == 0 else (trial.changed + 1) % 3
            run.answering(trial, named, 900, [1, 1, 1])()
    told = earwitness(casebook.folder, "threshold", "show", run.kept.id).stdout
    assert says in told
    assert "Played by box at 74 dBA" in told


def test_crosscheck_takes_the_listeners_own_threshold_and_says_so(casebook: Casebook, tmp_path: Path) -> None:
    run = kept_run(casebook)
    for name, lift_db in (("sallow", 0.8), ("bracken", 0.0)):
        file = tmp_path / f"{name}.txt"
        rows = [f"{hz} {lift_db if 3900 < hz < 8100 else 0}" for hz in range(50, 20_000, 10)]
        file.write_text("Hz dB\n" + "\n".join(rows), encoding="utf-8")
        assert earwitness(casebook.folder, "curve", "add", name, str(file)).returncode == 0
    earwitness(casebook.folder, "word", "log", "bright", "--setup", "sallow", "--listener", "Ada")
    told = earwitness(casebook.folder, "crosscheck", "sallow", "bracken")
    assert told.returncode == 0, told.stderr
    assert "Ada's own threshold is" in told.stdout
    assert "The threshold used for bright: Ada's own:" in told.stdout
    assert "What was heard or said is about Ada alone." in told.stdout
    assert "as published" not in told.stdout
    [word] = json.loads(earwitness(casebook.folder, "crosscheck", "sallow", "bracken", "--json").stdout)["words"]
    assert word["audible"]["own"] is True
    assert word["audible"]["low_db"] < word["threshold_db"] < word["audible"]["high_db"]
    assert run


@pytest.mark.parametrize(
    ("choose", "says"),
    [
        (lambda changed: 0, r"answers of one habit: A was named in \d+ of \d+ trials"),
        (lambda changed: (changed + 1) % 3, r"answers below chance: 0 of 18 are right, and guessing gives about 6"),
    ],
)
def test_answers_of_a_habit_or_below_chance_are_told_so_and_used_nowhere(
    casebook: Casebook, tmp_path: Path, choose: Callable[[int], int], says: str
) -> None:
    ada = catalogue.add_listener(casebook, "Ada")
    drawn = iter(range(1, 1000))
    sought = of_noise(Band(5657, 1.0), "box", None).sought
    setup = catalogue.find(casebook, Setup, "sallow")
    with threshold_run.begin(casebook, ada, setup, sought, draw=lambda below: next(drawn) % below) as run:
        while (trial := run.next_trial()) is not None:
            run.answering(trial, choose(trial.changed), 900, [1, 1, 1])()
    told = earwitness(casebook.folder, "threshold", "show", run.kept.id).stdout
    assert re.search(says, told)
    assert "nothing can be told of hearing from this run" in told
    assert "It holds" not in told  # nothing was found that could
    assert "not noticed up to" not in told
    assert "nothing: answers" in earwitness(casebook.folder, "threshold", "list").stdout
    [kept] = threshold_rows.every(casebook)
    assert own_thresholds.of_band([kept], [ada.id], {ada.id: "Ada"}, 4000, 8000, lack=False) is None
    [aside] = own_thresholds.set_aside([kept], [ada.id], {ada.id: "Ada"}, 4000, 8000, lack=False)
    assert f"Ada's run {kept.id}" in aside


def test_a_run_on_a_band_with_little_in_it_is_told_so_and_does_not_decide(casebook: Casebook) -> None:
    kept_run(casebook)
    [kept] = threshold_rows.every(casebook)
    little = replace(kept, sought=replace(kept.sought, changes_db=2.0))
    names = {kept.listener_id: "Ada"}
    assert own_thresholds.of_band([kept], names, names, 4000, 8000, lack=False) is not None
    assert own_thresholds.of_band([little], names, names, 4000, 8000, lack=False) is None
    assert "one of 2.0 dB in the ear" in threshold_told.little(little.sought)
    assert threshold_told.little(kept.sought) == ""


EDITS = {
    "turned round": (
        "UPDATE threshold_answers SET named = (changed + 1) % 3 WHERE trial < 9",
        "lead to something else",
    ),
    "off the list": ("UPDATE threshold_answers SET size = 40 WHERE trial = 3", "size number 41, and there are 13"),
}


@pytest.mark.parametrize("edit", EDITS)
def test_a_rewritten_record_that_contradicts_the_rule_is_found_and_read_in_a_line(
    casebook: Casebook, edit: str
) -> None:
    run = kept_run(casebook)
    statement, says = EDITS[edit]
    rewritten(casebook, statement)
    verified = earwitness(casebook.folder, "verify")
    assert (verified.returncode, f"the run {run} for a threshold: " in verified.stdout) == (1, True)
    assert says in verified.stdout
    for words in (("list",), ("show", run)):
        told = earwitness(casebook.folder, "threshold", *words)
        assert (told.returncode, "THE RECORD DOES NOT HOLD" in told.stdout) == (0, True), told.stderr
        assert "noticed from 1" not in told.stdout
    with pytest.raises(CasebookError, match="size number 41") if edit == "off the list" else nullcontext():
        own_thresholds.found(threshold_rows.every(casebook)[0])


def test_runs_hold_as_they_are_played_and_not_once_answers_are_moved_taken_out_or_off_the_rule(
    casebook: Casebook,
) -> None:
    kept_run(casebook, complete=False)
    kept_run(casebook)
    stopped, whole = threshold_rows.every(casebook)
    assert own_thresholds.faults(stopped) == own_thresholds.faults(whole) == []
    assert verification.verify(casebook).ok

    def edited(place: int, **changed: int) -> KeptThreshold:
        answers = list(whole.answers)
        answers[place] = replace(answers[place], **changed)
        return replace(whole, answers=tuple(answers))

    def cut(keep: Sequence[int], **changed: bool) -> KeptThreshold:
        numbers = {"answers": tuple(whole.answers[place] for place in keep), "trials": tuple(one + 1 for one in keep)}
        return replace(whole, **numbers, **changed)

    count = len(whole.answers)
    for wrong, says in (
        (edited(0, named=(whole.answers[0].named + 1) % 3), "trial 2 is of"),
        (edited(3, size=12), "trial 4 is of 12 dB, where the answers before it lead to something else"),
        (edited(2, named=9), "trial 3 has a presentation that is none of its 3"),
        (cut([*range(4), *range(9, count)]), "answers are those of trials 1, 2, 3, 4, 10,"),
        (cut(range(12)), "came to its end, and its 12 answers lead to another trial"),
        (cut(range(count), complete=False), "does not say that it came there"),
    ):
        [fault] = own_thresholds.faults(wrong)
        assert says in fault
    assert own_thresholds.faults(cut(range(12), complete=False)) == []


def test_a_run_that_was_left_and_taken_up_says_how_often(casebook: Casebook) -> None:
    ada, sought = catalogue.add_listener(casebook, "Ada"), of_noise(None, "box", None).sought
    for _ in range(3):
        with threshold_run.begin(casebook, ada, None, sought) as run:
            trial = run.next_trial()
            assert trial is not None
            run.answering(trial, trial.changed, 900, [1, 1, 1])()
    assert "left and taken up again 2 times" in earwitness(casebook.folder, "threshold", "show", run.kept.id).stdout


def test_the_device_is_kept_by_its_name_and_a_refused_rate_is_resampled_of_files_and_refused_of_gear(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    catalogue.add_listener(casebook, "Ada")
    rates = frozenset({44_100})

    def left(casebook: Casebook, run: threshold_run.ThresholdRun[Sought], *_: object) -> None:
        assert run.sought.rate_hz == 44_100

    monkeypatch.setattr(devices, "playable", lambda *_: Playable("Desk box: ALSA", rates))
    monkeypatch.setattr(threshold_command, "check_terminal", lambda: None)
    monkeypatch.setattr(threshold_command, "_at_the_chair", left)
    told = earwitness(casebook.folder, *FIND, "--json")
    assert told.returncode == 0, told.stderr
    assert "prepared again at 44100 Hz" in told.stderr
    assert json.loads(told.stdout)["sought"]["device"] == "Desk box: ALSA"
    assert casebook.query("SELECT device FROM sessions")[0]["device"] == "Desk box: ALSA"
    chain = playback_chain.routed("box:3,4")
    assert players.playing_on(chain, None) == "box:3,4"
    assert players.playing_on(playback_chain.routed(":3,4"), None) == "Desk box: ALSA:3,4"
    with pytest.raises(DeviceError, match="does not play 48000 Hz"):
        asked_device.free_rates([chain], None, {48_000})


def test_a_rehearsal_with_slips_says_what_is_noticed_half_of_the_time(casebook: Casebook) -> None:
    words = ("threshold", "rehearse", "--notices", "2", "--runs", "1", "--slips")
    told = earwitness(casebook.folder, *words, "0.5").stdout
    assert "notices 2 dB in half of the trials attended to, and answers blind in 50 % of all trials" in told
    assert "With more than 10 % of blind answers" in told
    assert "blind" not in earwitness(casebook.folder, *words, "0").stdout


def test_a_rehearsal_keeps_nothing_and_says_how_often_the_interval_held(casebook: Casebook) -> None:
    told = earwitness(casebook.folder, "threshold", "rehearse", "--notices", "1.5", "--runs", "3", "--json")
    assert told.returncode == 0, told.stderr
    done = json.loads(told.stdout)
    assert (done["rehearsal"], done["runs"], len(done["trials"])) == (True, 3, 3)
    assert 0 <= done["held"] <= 3
    assert casebook.query("SELECT * FROM sessions") == []


def test_what_is_refused_is_said_in_a_line_and_begins_nothing(casebook: Casebook) -> None:
    catalogue.add_listener(casebook, "Ada")
    played = ("--setup", "sallow", "--passage", "drums 1")
    for words, says in (
        ((*FIND,), "needs a terminal"),
        (("--octave", "2000"), "name what plays: --setup and --passage, or --noise"),
        (("--noise", "--setup", "sallow", "--octave", "2000"), "name what plays"),
        (played, "name one thing to look for"),
        ((*played, "--level", "--third", "500"), "name one thing to look for"),
        ((*played, "--level", "--cut"), "--cut belongs to --octave and --third"),
        ((*played, "--word", "brihgt"), "did you mean 'bright'?"),
        ((*played, "--octave", "2000", "--listener", "Adda"), "did you mean 'Ada'?"),
    ):
        done = earwitness(casebook.folder, *(words if words[0] == "threshold" else ("threshold", "find", *words)))
        assert (done.returncode, says in done.stderr, done.stderr.count("\n")) == (2, True, 1), done.stderr
    assert casebook.query("SELECT * FROM sessions") == []
    done = earwitness(casebook.folder, "threshold", "rehearse", "--notices", "-1")
    assert (done.returncode, "--notices -1 is out of range" in done.stderr) == (2, True)


class TestPage:
    @pytest.fixture
    def page(self, casebook: Casebook) -> Iterator[ThresholdPage]:
        sounds = of_noise(Band(2000, 1.0), "none: test", None)
        with threshold_run.begin(casebook, catalogue.add_listener(casebook, "Ada"), None, sounds.sought) as run:
            self.player = SilentPlayer()
            yield ThresholdPage(ThresholdListening(run, self.player, sounds, sleep=at_once), "a run")

    def answered(self, page: ThresholdPage) -> None:
        for key in ("a", "b", "C"):
            page.turn(key)
            page.presentations()
        page.turn(keyboard.ENTER)

    def test_nothing_shown_depends_on_what_is_changed_or_on_earlier_answers(self, page: ThresholdPage) -> None:
        shown, sizes = [], set()
        for named in "abcabc":
            page.bring()
            sizes.add(page.listening.current.size)
            self.answered(page)
            shown.append([page.asked(), *page.what_keys_do(), page.place_words(), str(page.presentations())])
            page.turn(named)
            assert (page.asking, page.message) == ("next", "kept")
        assert len(sizes) > 1
        assert all(one == shown[0] for one in shown)

    def test_a_sound_that_keeps_being_disturbed_falls_silent_and_waits_for_a_key(self, page: ThresholdPage) -> None:
        for times in range(1, 5):
            page.bring()
            page.turn("a")
            self.player.counts = Faults(underruns=times)
            page.poll()
            assert page.asking == ("disturbed" if times == 4 else "next")
        assert self.player.asked[-1] == "stop"
        assert "4 times in a row" in page.messages()[0]
        assert not page.brings
        page.turn(keyboard.ENTER)
        assert page.brings

    def test_a_lost_device_and_a_busy_casebook_are_waited_for(
        self, page: ThresholdPage, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        now = 0.0
        page.monotonic = lambda: now

        def lost(*_: object) -> None:
            raise DeviceError("no device")

        with monkeypatch.context() as gone:
            gone.setattr(self.player, "load", lost)
            for wait_s in (2, 4, 8, 8):
                page.bring()
                assert (page.asking, page.brings) == ("device", False)
                now += wait_s + 0.1
                assert page.brings
        page.bring()
        assert page.asking == "hear"
        self.answered(page)

        def busy(_: Casebook) -> None:
            raise CasebookBusy("in use")

        with monkeypatch.context() as held:
            held.setattr(Casebook, "writing", busy)
            page.turn("b")
            assert page.asking == "busy"
            assert page.what_keys_do()[0].startswith("The casebook is in use")
        page.bring()
        assert (page.asking, page.listening.run.answered) == ("hear", 1)
        self.answered(page)

        def full(_: Casebook) -> None:
            raise CasebookFull("no space")

        with monkeypatch.context() as held:
            held.setattr(Casebook, "writing", full)
            page.turn("b")
            assert page.what_keys_do()[0].startswith("The host's disk is full")

    def test_an_answer_can_be_taken_back_and_leaving_is_asked(self, page: ThresholdPage) -> None:
        page.bring()
        self.answered(page)
        assert page.asking == "answer"
        page.turn(keyboard.ESCAPE)
        assert page.asking == "hear"
        page.turn("q")
        assert page.asking == "leave"
        page.turn("x")
        assert page.asking == "hear"
        page.turn("q")
        page.turn("y")
        assert page.ended


@pytest.mark.parametrize(
    ("named", "says"),
    [
        (None, "Stopped after 3 answers, kept; to take it up: earwitness threshold find --noise --octave 1000\n"),
        (0, "Another run, where each presentation is heard before one is named: earwitness threshold find --noise "),
    ],
)
def test_a_run_that_ended_says_the_command_that_goes_on_from_it(
    casebook: Casebook, capsys: pytest.CaptureFixture[str], named: int | None, says: str
) -> None:
    ada, sought = catalogue.add_listener(casebook, "Ada"), of_noise(Band(1000, 1.0), "box", None).sought
    drawn = iter(range(1000))
    with threshold_run.begin(casebook, ada, None, sought, draw=lambda below: next(drawn) % below) as run:
        while (trial := run.next_trial()) is not None and (named is not None or run.answered < 3):
            run.answering(trial, trial.changed if named is None else named, 900, [1, 1, 1])()
    [kept] = threshold_rows.every(casebook)
    given = ["--noise", "--octave", "1000", "--anew"]
    root = click.Context(click.Group("earwitness"), info_name="earwitness")
    group = click.Context(threshold_command.threshold, parent=root, info_name="threshold")
    with threshold_command.find.make_context("find", given, parent=group):
        kept_run_told.tell_next(kept, as_json=False)
    assert says in capsys.readouterr().out
