"""The chair's screen at a real terminal (tmux): once each with real playback (PortAudio on a JACK dummy server) for an
ordinary evening, a graded one and a lost device; otherwise at a silent player.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from sessions.casebook.store import Casebook, open_casebook
from sessions.commands.keyboard import HELD_S
from sessions.errors import ListenError
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.plan_rows import Wish
from tests.casebooks import chain_holds, held
from tests.jack import Server
from tests.terminal import Terminal, answer_on_screen, command, listen_on_screen

ROOT = Path(__file__).parents[3]


def silent(book: Path, plan: str = "evening", stumbles: int | str = 0) -> str:
    """The command that listens to a plan with nothing played; its first sounds are disturbed."""
    program = [sys.executable, "-m", "tests.silent_evening", str(book), plan, str(stumbles)]
    return shlex.join(["env", f"PYTHONPATH={ROOT}", *program])


def sentence(screen: str) -> str:
    """What a screen says, whatever lines it stands on."""
    return " ".join(screen.split())


def listening(book: Path) -> int:
    """The process that listens."""
    found = subprocess.run(
        ["pgrep", "-f", f"{sys.executable}.*{book} listen"], capture_output=True, text=True, check=True
    )
    return int(found.stdout.split()[0])


@pytest.mark.jack
def test_a_session_at_the_terminal_survives_a_kill_and_ends_with_its_plan(
    casebook: Casebook, terminal: Terminal, server: Server
) -> None:
    drafting.draft(casebook, Wish("abx", ("sallow", "bracken"), listeners=("Ada",), trials=4), "evening")
    seals.seal(casebook, "evening")
    book = casebook.folder
    casebook.close()
    listen_on_screen(terminal, book)
    first = terminal.wait("Is X the same as A or as B")
    assert "Start quiet" in first
    terminal.keys("Enter")
    terminal.wait("hear X before you answer")
    answer_on_screen(terminal, 1, "a", trials=4)
    terminal.wait("trial 2 of 4")
    terminal.keys("b", "w")
    terminal.wait("A word for B")
    terminal.keys("h", "a", "r", "d", "s", "BSpace", "Enter")
    terminal.wait("hard: strength")
    terminal.keys("4")
    terminal.wait("kept the word: hard")
    os.kill(listening(book), signal.SIGKILL)
    terminal.wait("left with 137")
    listen_on_screen(terminal, book)
    terminal.wait("trial 2 of 4")
    terminal.keys("x", "Space")
    terminal.wait("paused")
    terminal.keys("Space", "s", "q")
    terminal.wait("Stop here")
    terminal.keys("y")
    stopped = terminal.wait("left with 0")
    assert "Stopped after 1 of 4 trials" in stopped
    listen_on_screen(terminal, book)
    with open_casebook(book) as opened:
        for trial in range(2, 5):
            answer_on_screen(terminal, trial, "b", trials=4)
        done = terminal.wait("left with 0")
        assert "All 4 trials are answered" in done
        assert plan_rows.opening(opened, seals.sealed_plan(opened, "evening").plan.id) is not None
        assert opened.query("SELECT count(*) AS n FROM answers")[0]["n"] == 4
        assert chain_holds(opened)
        word = opened.query("SELECT term, strength, stimulus, blind, setup_id, track_ms FROM words")[0]
        assert (word["term"], word["strength"], word["stimulus"], word["blind"]) == ("hard", 4, "B", 0)  # B is named
        assert word["setup_id"] is None
        rows = opened.query("SELECT DISTINCT trial, stimulus FROM auditions JOIN trials ON trials.id = trial_id")
        heard = {(row["trial"], row["stimulus"]) for row in rows}
        assert {(trial, "X") for trial in range(1, 5)} <= heard
        marks = [row["what"] for row in opened.query("SELECT what FROM session_marks ORDER BY seq")]
        assert marks == ["begun", "taken up", "paused", "resumed", "stopped", "taken up", "complete"]
        trials = opened.query("SELECT trial, offer FROM trials ORDER BY seq")
        assert [row["trial"] for row in trials if row["offer"] == 1] == list(range(1, 5))
    terminal.run(command(book, "listen", "evening", "--listener", "Ada"))
    terminal.wait("is over; see")
    terminal.wait("verdict evening")


@pytest.mark.jack
def test_a_dead_sound_server_pauses_the_session_and_it_goes_on_when_the_server_is_back(
    sealed: Casebook, terminal: Terminal, server: Server
) -> None:
    book = sealed.folder
    sealed.close()
    listen_on_screen(terminal, book)
    answer_on_screen(terminal, 1, "a")
    terminal.wait("trial 2 of 8")
    terminal.keys("x")
    server.kill()
    waiting = terminal.wait("No sound: waiting for the device")
    assert "Nothing is lost" in waiting
    assert "Traceback" not in waiting
    server.start()
    terminal.wait("the sound is back")
    answer_on_screen(terminal, 2, "b")
    terminal.wait("trial 3 of 8")
    server.kill()
    terminal.wait("No sound: waiting for the device")
    terminal.keys("q")
    ended = terminal.wait("left with 0")
    assert "Stopped after 2 of 8 trials" in ended
    with open_casebook(book) as casebook:
        assert chain_holds(casebook)
        faults = casebook.query("SELECT kind FROM faults")
        assert {"kind": "stalls"} in faults
        assert casebook.query("SELECT count(*) AS n FROM answers")[0]["n"] == 2
    server.start()


@pytest.mark.jack
def test_grades_are_given_at_the_terminal_to_what_is_heard(
    casebook: Casebook, terminal: Terminal, server: Server
) -> None:
    drafting.draft(casebook, Wish("multi-stimulus", ("sallow", "bracken"), listeners=("Ada",)), "grades")
    seals.seal(casebook, "grades")
    book = casebook.folder
    casebook.close()
    listen_on_screen(terminal, book, "grades")
    terminal.wait("Grade the quality of each against the reference")
    terminal.keys("1", "Up")
    terminal.wait("1 .* on .* 50 ")
    terminal.keys("Enter")
    terminal.wait("hear R and 2 and 3 and 4 before you answer")
    for label, key in (("r", "Up"), ("2", "Up"), ("3", "Up"), ("4", "Up")):
        terminal.keys(label)
        terminal.wait(rf" {label.upper()} +on ")
        terminal.keys(key)
    terminal.wait(r" 4 +on .* 50 ")
    terminal.keys("PPage", "Down")
    terminal.wait(r" 4 +on .* 59 ")
    terminal.keys("Enter")
    terminal.wait("Your grades. How sure")
    terminal.keys("3")
    terminal.wait("trial 2 of 6")
    fresh = terminal.wait("not graded yet")
    assert "59" not in fresh
    terminal.keys("q", "y")
    terminal.wait("left with 0")
    with open_casebook(book) as opened:
        kept = opened.query("SELECT answer, sureness FROM answers")
    assert [(json.loads(row["answer"]), row["sureness"]) for row in kept] == [
        ({"1": "50", "2": "50", "3": "50", "4": "59"}, 3)
    ]


@pytest.mark.jack
def test_words_are_ticked_at_the_terminal_of_what_is_heard(
    casebook: Casebook, terminal: Terminal, server: Server
) -> None:
    words = ("bright", "dull", "boomy", "thin", "wide", "narrow", "near", "distant")
    drafting.draft(casebook, Wish("words", ("sallow", "bracken"), listeners=("Ada",), words=words, trials=3), "ballot")
    seals.seal(casebook, "ballot")
    book = casebook.folder
    casebook.close()
    listen_on_screen(terminal, book, "ballot")
    terminal.wait("Which of these words apply to 1, and which to 2")
    terminal.keys("1")
    terminal.wait(" 1: on ")
    terminal.keys("Space")
    first = terminal.wait(r"> \[x\] \[ \] (\S+)")
    terminal.keys("2")
    terminal.wait(" 2: on ")
    terminal.keys("Down", "Space")
    second = terminal.wait(r"> \[ \] \[x\] (\S+)")
    terminal.keys("p")
    terminal.wait("paused at")
    terminal.keys("Enter")
    terminal.wait("Your ticks. How sure")
    terminal.keys("3")
    terminal.wait("trial 2 of 4")
    terminal.keys("q", "y")
    terminal.wait("left with 0")
    shown = [*re.findall(r"\[x\] \[ \] (\S+)", first), *re.findall(r"\[ \] \[x\] (\S+)", second)]
    with open_casebook(book) as opened:
        kept = opened.query("SELECT answer, sureness FROM answers")
    assert [(json.loads(row["answer"]), row["sureness"]) for row in kept] == [({"1": shown[:1], "2": shown[1:]}, 3)]


def test_without_a_sound_device_listening_says_so(
    sealed: Casebook, terminal: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "no-such-server")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    terminal.run(command(sealed.folder, "listen", "evening", "--listener", "Ada"))
    ended = terminal.wait("left with 2")
    assert "no sound device to play on" in ended


def test_a_word_is_kept_as_it_is_typed_whatever_its_script(sealed: Casebook, terminal: Terminal) -> None:
    terminal.run(silent(sealed.folder))
    terminal.wait("trial 1 of 8")
    for word in ("hörbar, grün", "ясный", "明るい"):
        terminal.keys("x", "w")
        terminal.wait("A word for X")
        terminal.keys(word, "Enter")
        terminal.wait("strength 1")
        terminal.keys("2")
        terminal.wait("kept the word: " + word)
    kept = [row["term"] for row in sealed.query("SELECT term FROM words ORDER BY seq")]
    assert kept == ["hörbar, grün", "ясный", "明るい"]


@pytest.mark.parametrize("typed", ["\r2", "\ra3\ra3xx\ra2"], ids=["held or hasty", "an answer and more"])
def test_what_is_typed_ahead_answers_no_trial(sealed: Casebook, terminal: Terminal, typed: str) -> None:
    """Typed all through the coming of the next trial, and of a disturbed one again, with X heard before."""
    terminal.run(silent(sealed.folder, stumbles=1))
    terminal.wait("trial 1 of 8")
    terminal.keys("x")  # stumbles
    _type_on(terminal, typed)
    again = terminal.wait(r"trial 1 of 8[\s\S]*a  b  x: hear")  # both: a screen may be seen half drawn
    assert " heard" not in again
    assert sealed.query("SELECT * FROM answers") == []
    terminal.keys("x", "Enter", "a", "3")
    _type_on(terminal, typed)
    terminal.wait(r"trial 2 of 8[\s\S]*a  b  x: hear")
    assert len(sealed.query("SELECT * FROM answers")) == 1


def _type_on(terminal: Terminal, typed: str, seconds: float = 2.5) -> None:
    """Type as fast as a held key repeats (common practice: 30 a second), for longer than a trial takes to come."""
    ends = time.monotonic() + seconds
    while time.monotonic() < ends:
        terminal.type(typed)
        time.sleep(1 / 30)


def test_a_held_digit_answers_and_is_no_sureness(casebook: Casebook, terminal: Terminal) -> None:
    drafting.draft(casebook, Wish("tetrad", ("sallow", "bracken"), listeners=("Ada",)), "four")
    seals.seal(casebook, "four")
    terminal.run(silent(casebook.folder, "four"))
    terminal.wait("trial 1 of")
    terminal.keys("1", "2", "3", "4", "Enter")
    terminal.wait("Your answer")
    for _ in range(6):
        terminal.type("2")
    assert "How sure" in terminal.wait("belong together")
    assert casebook.query("SELECT * FROM answers") == []
    time.sleep(HELD_S)
    terminal.keys("2")
    terminal.wait("kept")
    assert [row["answer"] for row in casebook.query("SELECT answer FROM answers")] == ["2"]


def test_a_word_that_is_being_typed_outlives_a_fault(sealed: Casebook, terminal: Terminal) -> None:
    terminal.run(silent(sealed.folder, stumbles="late"))
    terminal.wait("trial 1 of 8")
    terminal.keys("x", "w", "warm")
    terminal.wait(r"A word for X: warm_")
    assert "The sound was disturbed" in sentence(terminal.wait("this trial starts afresh"))
    terminal.keys(" and", "Enter")
    terminal.wait("warm and: strength")
    terminal.keys("2")
    assert "trial 1 of 8" in terminal.wait("kept the word: warm and")
    terminal.wait("a  b  x: hear")
    assert [row["term"] for row in sealed.query("SELECT term FROM words")] == ["warm and"]


def test_a_disturbance_before_anything_is_heard_leaves_the_caution_standing(
    sealed: Casebook, terminal: Terminal
) -> None:
    terminal.run(silent(sealed.folder, stumbles="early"))
    terminal.wait("this trial starts afresh")
    terminal.wait("a  b  x: hear")
    assert "Start quiet and turn up slowly." in terminal.screen()


def test_a_narrow_terminal_asks_for_room(sealed: Casebook) -> None:
    narrow = Terminal(f"earwitness-narrow-{os.getpid()}", width=30, height=10)
    try:
        narrow.run(silent(sealed.folder))
        narrow.wait("make the window larger")
    finally:
        narrow.close()


def test_a_disturbed_trial_says_so_until_it_is_heard_again_and_what_helps_when_that_goes_on(sealed: Casebook) -> None:
    usual = Terminal(f"earwitness-usual-{os.getpid()}", width=80)
    try:
        usual.run(silent(sealed.folder, stumbles=3))
        usual.wait("Start quiet")
        for times in (1, 2, 3):
            usual.keys("x")
            on_its_way = usual.wait("One moment")
            assert "the next trial" not in on_its_way  # it is the same one
            assert "The sound was disturbed (1 underrun)" in on_its_way
            again = sentence(usual.wait("a b x: hear|a  b  x: hear"))
            assert "trial 1 of 8" in again
            assert "The sound was disturbed (1 underrun): this trial starts afresh, in fresh random order." in again
            usual.keys("w")  # any key but one that plays leaves it there
            assert "The sound was disturbed" in usual.wait("play something first")
            assert ("a larger buffer of the sound server" in again) == (times == 3)
        assert "3 times in a row now." in again
        assert "earwitness doctor" in again
        usual.keys("a")
        assert "disturbed" not in usual.wait("▲ on")
    finally:
        usual.close()


def test_a_long_message_is_shown_whole(sealed: Casebook, monkeypatch: pytest.MonkeyPatch) -> None:
    small = Terminal(f"earwitness-whole-{os.getpid()}", width=60, height=14)
    try:
        small.run(silent(sealed.folder, stumbles=1))
        small.wait("Start quiet and turn up slowly.")
        assert "How loud it is at your ears is not known here; rest them." in sentence(small.screen())
        assert "Enter: answer    w: log a word" in small.screen()
    finally:
        small.close()


def test_a_casebook_in_use_is_said_and_waited_for(sealed: Casebook, terminal: Terminal) -> None:
    """Another program holds it while an answer is given: the screen says so, and goes on when it lets go."""
    terminal.run(silent(sealed.folder))
    terminal.wait("trial 1 of 8")
    terminal.keys("x", "Enter", "a")
    with held(sealed.folder):
        terminal.keys("3")
        waiting = terminal.wait("The casebook is in use by another program; waiting … nothing is lost")
        assert "kept" not in waiting
        time.sleep(1)  # longer than one try waits
        assert "Traceback" not in terminal.screen()
        assert sealed.query("SELECT * FROM answers") == []
    terminal.wait("trial 2 of 8")
    terminal.wait("kept")
    assert [row["answer"] for row in sealed.query("SELECT answer FROM answers")] == ["A"]
    terminal.keys("x")
    with held(sealed.folder):
        terminal.keys("Space")  # a pause is to be kept; listening goes on all the same
        terminal.wait("the casebook is in use by another program; waiting … nothing is lost")
        terminal.keys("b")
        terminal.wait("▲ on")
    terminal.keys("q", "y")
    terminal.wait("stopped")
    marks = [row["what"] for row in sealed.query("SELECT what FROM session_marks ORDER BY seq")]
    assert marks == ["begun", "paused"]


def test_stopping_while_the_casebook_is_in_use_still_keeps_the_answer(sealed: Casebook, terminal: Terminal) -> None:
    terminal.run(silent(sealed.folder))
    terminal.wait("trial 1 of 8")
    terminal.keys("x", "Enter", "b")
    with held(sealed.folder):
        terminal.keys("2")
        terminal.wait("q: stop")
        terminal.keys("q")
        terminal.wait("The casebook is in use by another program; waiting … nothing is lost.")
        assert sealed.query("SELECT * FROM answers") == []
    terminal.wait("stopped")
    assert [row["sureness"] for row in sealed.query("SELECT sureness FROM answers")] == [2]


def test_where_no_screen_can_be_drawn_it_is_said_before_anything_is_begun(
    sealed: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sessions.commands import at_terminal

    monkeypatch.setitem(sys.modules, "_curses", None)
    with pytest.raises(ListenError, match="drawn with curses, which this Python lacks"):
        at_terminal.check_terminal()
    done = subprocess.run(
        shlex.split(command(sealed.folder, "listen", "evening", "--listener", "Ada")),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert done.stderr == (
        "earwitness: listening needs a terminal for its screen and keys; run it in one, not through a pipe, or listen "
        f"to a sealed plan by a page in a browser: earwitness --casebook {sealed.folder} serve\n"
    )
    assert sealed.query("SELECT * FROM sessions") == []


@pytest.mark.parametrize("module", ["listen", "rehearse", "assist", "compare", "main"])
def test_only_the_screen_itself_needs_curses(module: str) -> None:
    program = f"import sys; sys.modules['_curses'] = None; import sessions.commands.{module}"
    subprocess.run([sys.executable, "-c", program], check=True)
