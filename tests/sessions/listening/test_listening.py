"""A session at a real terminal (tmux) with real playback (PortAudio on a JACK dummy server), and its unhappy turns."""

from __future__ import annotations

import json
import os
import re
import shlex
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from audio.engine.playback import Audition, Faults, Position
from sessions.casebook.store import Casebook, open_casebook
from sessions.errors import ListenError
from sessions.listening import session
from sessions.listening.trial_runner import PAUSE_AFTER_S, Sitting
from sessions.plans import drafting, plan_rows, seals
from sessions.results import review, verification
from tests.jack import Server

MOST_OFFERS = 64  # fair coins all fall alike so often once in 2^63


class Terminal:
    """A tmux session of its own, 100 columns wide unless told otherwise."""

    def __init__(self, name: str, width: int = 100, height: int = 24) -> None:
        self.name, self.runs = name, 0
        self.size = ["-x", str(width), "-y", str(height)]

    @property
    def base(self) -> list[str]:
        return ["tmux", "-L", f"{self.name}-{self.runs}"]

    def run(self, command: str) -> None:
        """Run a command in a terminal of its own; a server that is still ending cannot take a new session."""
        self.close()
        self.runs += 1
        shown = f"{command}; left=$?; echo; echo left with $left; sleep 600"
        subprocess.run([*self.base, "new-session", "-d", *self.size, shown], check=True)

    def screen(self) -> str:
        done = subprocess.run([*self.base, "capture-pane", "-p", "-J"], capture_output=True, text=True, check=True)
        return done.stdout

    def keys(self, *keys: str) -> None:
        for key in keys:
            subprocess.run([*self.base, "send-keys", key], check=True)
            time.sleep(0.15)

    def wait(self, pattern: str, seconds: float = 20.0) -> str:
        give_up = time.monotonic() + seconds
        while not re.search(pattern, screen := self.screen()):
            assert time.monotonic() < give_up, f"no {pattern!r} on the screen:\n{screen}"
            time.sleep(0.05)
        return screen

    def close(self) -> None:
        subprocess.run([*self.base, "kill-server"], check=False, capture_output=True)


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    opened = Terminal(f"earwitness-test-{os.getpid()}")
    yield opened
    opened.close()


def command(book: Path, *arguments: str) -> str:
    executable = str(Path(sys.executable).with_name("earwitness"))
    return shlex.join([executable, "--casebook", str(book), *arguments])


def listening(book: Path) -> int:
    """The process that listens."""
    found = subprocess.run(
        ["pgrep", "-f", f"{sys.executable}.*{book} listen"], capture_output=True, text=True, check=True
    )
    return int(found.stdout.split()[0])


def answer_on_screen(terminal: Terminal, trial: int, choice: str) -> None:
    """Answer a trial; if the machine stumbled and disturbed it, answer it again when it comes back."""
    terminal.wait(rf"trial {trial} of 8")
    for _ in range(10):
        try:
            terminal.keys("a", "x")
            terminal.wait(r"▲ on", 5)
            terminal.keys("Enter")
            terminal.wait("Your answer", 3)
            terminal.keys(choice)
            terminal.wait("How sure", 3)
            terminal.keys("3")
            screen = terminal.wait(rf"trial {trial + 1} of 8|left with|a playback fault", 5)
        except AssertionError:
            terminal.keys("Escape")
            continue
        if "a playback fault" not in screen:
            return
    raise AssertionError(f"trial {trial} was disturbed every time:\n{terminal.screen()}")


@pytest.mark.jack
def test_a_session_at_the_terminal_survives_a_kill_and_ends_in_a_verdict(
    sealed: Casebook, terminal: Terminal, server: Server
) -> None:
    book = sealed.folder
    sealed.close()
    terminal.run(command(book, "listen", "evening", "--listener", "Ada"))
    first = terminal.wait("Is X the same as A or as B")
    assert "Start quiet" in first
    terminal.keys("Enter")
    terminal.wait("hear X before you answer")
    answer_on_screen(terminal, 1, "a")
    terminal.wait("trial 2 of 8")
    terminal.keys("b", "w")
    terminal.wait("A word for B")
    terminal.keys("h", "a", "r", "d", "s", "BSpace", "Enter")
    terminal.wait("hard: strength")
    terminal.keys("4")
    terminal.wait("kept the word: hard")
    os.kill(listening(book), signal.SIGKILL)
    terminal.wait("left with 137")
    terminal.run(command(book, "listen", "evening", "--listener", "Ada"))
    terminal.wait("trial 2 of 8")
    terminal.keys("x", "Space")
    terminal.wait("paused")
    terminal.keys("Space", "s", "q")
    terminal.wait("Stop here")
    terminal.keys("y")
    stopped = terminal.wait("left with 0")
    assert "Stopped after 1 of 8 trials" in stopped
    terminal.run(command(book, "listen", "evening", "--listener", "Ada"))
    with open_casebook(book) as casebook:
        for trial in range(2, 9):
            answer_on_screen(terminal, trial, "b")
        done = terminal.wait("left with 0")
        assert "All 8 trials are answered" in done
        found = review.verdicts(casebook, "evening")[0]
        assert (found.state, found.answered) == ("complete", 8)
        assert verification.verify(casebook).ok
        word = casebook.query("SELECT term, strength, stimulus, blind, setup_id, track_ms FROM words")[0]
        assert (word["term"], word["strength"], word["stimulus"], word["blind"]) == ("hard", 4, "B", 1)
        assert word["setup_id"] is None
        rows = casebook.query("SELECT DISTINCT trial, stimulus FROM auditions JOIN trials ON trials.id = trial_id")
        heard = {(row["trial"], row["stimulus"]) for row in rows}
        assert {(trial, "X") for trial in range(1, 9)} <= heard
        marks = [row["what"] for row in casebook.query("SELECT what FROM session_marks ORDER BY seq")]
        assert marks == ["begun", "taken up", "paused", "resumed", "stopped", "taken up", "complete"]
        trials = casebook.query("SELECT trial, offer FROM trials ORDER BY seq")
        assert [row["trial"] for row in trials if row["offer"] == 1] == list(range(1, 9))
    again = command(book, "listen", "evening", "--listener", "Ada")
    terminal.run(again)
    terminal.wait("is over; see earwitness verdict")


@pytest.mark.jack
def test_a_dead_sound_server_pauses_the_session_and_it_goes_on_when_the_server_is_back(
    sealed: Casebook, terminal: Terminal, server: Server
) -> None:
    book = sealed.folder
    sealed.close()
    terminal.run(command(book, "listen", "evening", "--listener", "Ada"))
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
        assert verification.verify(casebook).ok
        faults = casebook.query("SELECT kind FROM faults")
        assert {"kind": "stalls"} in faults
        assert casebook.query("SELECT count(*) AS n FROM answers")[0]["n"] == 2
    server.start()


def test_without_a_sound_device_listening_says_so(
    sealed: Casebook, terminal: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "no-such-server")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    terminal.run(command(sealed.folder, "listen", "evening", "--listener", "Ada"))
    ended = terminal.wait("left with 2")
    assert "no sound device to play on" in ended


@pytest.mark.jack
def test_a_narrow_terminal_asks_for_room(sealed: Casebook, server: Server) -> None:
    narrow = Terminal(f"earwitness-narrow-{os.getpid()}", width=30, height=10)
    try:
        narrow.run(command(sealed.folder, "listen", "evening", "--listener", "Ada"))
        narrow.wait("make the window larger")
    finally:
        narrow.close()


class SilentPlayer:
    """A player by hand: it keeps what it was asked for, and hears and stumbles as a test tells it."""

    def __init__(self) -> None:
        self.loaded: list[list[NDArray[np.float32]]] = []
        self.asked: list[str] = []
        self.counts = Faults()
        self.heard: list[Audition] = []
        self.at = Position(None, 0, False)

    def load(self, stimuli: Sequence[NDArray[np.float32]], rate_hz: int, places: Sequence[int] = ()) -> None:
        self.loaded.append(list(stimuli))

    def play(self, index: int) -> None:
        self.asked.append(f"play {index}")
        self.at = Position(index, 4800, True)

    def restart(self) -> None:
        self.asked.append("restart")

    def pause(self) -> None:
        self.asked.append("pause")

    def resume(self) -> None:
        self.asked.append("resume")

    def stop(self) -> None:
        self.asked.append("stop")

    def position(self) -> Position:
        return self.at

    def faults(self) -> Faults:
        return self.counts

    def trouble(self) -> str:
        return ""

    def auditions(self) -> list[Audition]:
        heard, self.heard = self.heard, []
        return heard


def test_x_is_its_own_copy_of_what_the_key_says(sealed: Casebook) -> None:
    player = SilentPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        sitting = Sitting(running, player)
        seen = set()
        while seen != {0, 1}:
            offered = sitting.offer()
            assert offered is not None
            assert offered.offer <= MOST_OFFERS
            a, b, x = player.loaded[-1]
            twin = (a, b)[offered.key["X"]]
            np.testing.assert_array_equal(x, twin)
            assert not np.shares_memory(x, twin)
            assert not np.array_equal(a, b)
            assert x.dtype == np.float32
            seen.add(offered.key["X"])
            running.fault(offered, "underruns", 1, "so that the trial comes back with a fresh coin")


def test_what_may_be_shown_is_the_same_for_both_keys(sealed: Casebook) -> None:
    shown: dict[int, set[object]] = {0: set(), 1: set()}
    player = SilentPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        sitting = Sitting(running, player, monotonic=lambda: 0.0)
        while not (shown[0] and shown[1]):
            offered = sitting.offer()
            assert offered is not None
            assert offered.offer <= MOST_OFFERS
            player.at = Position(None, 0, False)
            sitting.hear("X")
            now = sitting.now()
            shown[offered.key["X"]].add(
                (now.playing, now.position_s, now.length_s, now.paused, now.heard, now.rest_due)
            )
            running.fault(offered, "underruns", 1, "so that the trial comes back with a fresh coin")
    assert shown[0] == shown[1] != set()


def test_a_fault_takes_the_answer_back_and_offers_the_trial_again(sealed: Casebook) -> None:
    player = SilentPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        sitting = Sitting(running, player)
        first = sitting.offer()
        sitting.hear("X")
        player.heard = [Audition(2, 0, 9600)]
        assert sitting.poll() is None
        player.counts = Faults(underruns=3)
        said = sitting.answer("A", 4)
        assert said is not None
        assert "3 underruns" in said
        second = sitting.offer()
        assert first is not None
        assert second is not None
        assert (second.trial, second.offer) == (1, 2)
        assert sitting.poll() is None  # counted once
        sitting.hear("X")
        assert sitting.answer("A", 4) is None
    assert [row["kind"] for row in sealed.query("SELECT kind FROM faults")] == ["underruns"]
    assert sealed.query("SELECT count(*) AS n FROM answers")[0]["n"] == 1
    assert sealed.query("SELECT stimulus, to_frame FROM auditions") == [{"stimulus": "X", "to_frame": 9600}]


def test_an_answer_needs_to_have_heard_and_a_rest_suggests_itself(sealed: Casebook) -> None:
    clock = [0.0]
    with session.begin(sealed, "evening", "Ada", "none") as running:
        sitting = Sitting(running, SilentPlayer(), monotonic=lambda: clock[0])
        sitting.offer()
        assert not sitting.may_answer()
        sitting.hear("A")
        assert not sitting.may_answer()
        sitting.hear("X")
        assert sitting.may_answer()
        assert not sitting.now().rest_due
        clock[0] = PAUSE_AFTER_S + 1
        assert PAUSE_AFTER_S == 20 * 60
        assert sitting.now().rest_due
        sitting.rested()
        assert not sitting.now().rest_due
        with pytest.raises(ListenError, match="no answer here"):
            sitting.answer("C", 1)
        with pytest.raises(ListenError, match="sureness 5 is out of range"):
            sitting.answer("A", 5)


def test_prepared_audio_that_is_not_what_was_sealed_is_not_played(sealed: Casebook) -> None:
    for path in sealed.prepared.glob("*.wav"):
        data = bytearray(path.read_bytes())
        data[-1] ^= 1
        path.write_bytes(data)
    with (
        session.begin(sealed, "evening", "Ada", "none") as running,
        pytest.raises(ListenError, match="not what was sealed"),
    ):
        Sitting(running, SilentPlayer()).offer()


def test_prepared_audio_is_rebuilt_to_the_same_bytes(sealed: Casebook) -> None:
    from sessions.preparation import match_files

    before = {path.name: path.read_bytes() for path in sealed.prepared.glob("*.wav")}
    for path in sealed.prepared.glob("*.wav"):
        path.unlink()
    match_files.make_match_sheet(sealed, match_files.select(sealed, [], []))
    assert {path.name: path.read_bytes() for path in sealed.prepared.glob("*.wav")} == before
    with session.begin(sealed, "evening", "Ada", "none") as running:
        assert Sitting(running, SilentPlayer()).offer() is not None


def test_a_preference_needs_both_and_hides_which_is_which(casebook: Casebook) -> None:
    wish = plan_rows.Wish("preference", ("sallow", "bracken"), listeners=("Ada",), trials=6)
    drafting.draft(casebook, wish, "liking")
    seals.seal(casebook, "liking")
    player = SilentPlayer()
    with session.begin(casebook, "liking", "Ada", "none") as running:
        sitting = Sitting(running, player)
        firsts = []
        while (offered := sitting.offer()) is not None:
            firsts.append(offered.key["1"])
            assert not np.array_equal(player.loaded[-1][0], player.loaded[-1][1])
            sitting.hear("1")
            assert not sitting.may_answer()
            sitting.hear("2")
            assert sitting.may_answer()
            sitting.answer("1", 2)
    assert len(firsts) == 6


@pytest.mark.jack
def test_grades_are_given_at_the_terminal_to_what_is_heard(
    casebook: Casebook, terminal: Terminal, server: Server
) -> None:
    wish = plan_rows.Wish("multi-stimulus", ("sallow", "bracken"), listeners=("Ada",))
    drafting.draft(casebook, wish, "grades")
    seals.seal(casebook, "grades")
    book = casebook.folder
    casebook.close()
    terminal.run(command(book, "listen", "grades", "--listener", "Ada"))
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
    terminal.wait("trial 2 of 4")
    fresh = terminal.wait("not graded yet")
    assert "59" not in fresh
    terminal.keys("q", "y")
    terminal.wait("left with 0")
    with open_casebook(book) as opened:
        kept = opened.query("SELECT answer, sureness FROM answers")
    assert [(json.loads(row["answer"]), row["sureness"]) for row in kept] == [
        ({"1": "50", "2": "50", "3": "50", "4": "59"}, 3)
    ]


def test_grades_keep_to_their_scale_and_must_be_whole() -> None:
    import curses

    from sessions.commands.grade_sheet import Sheet
    from sessions.plans.methods import HIDDEN_REFERENCE

    sheet = Sheet(HIDDEN_REFERENCE)
    assert sheet.turn(curses.KEY_UP, "R")  # the open reference gets no grade
    assert sheet.given == {}
    for _ in range(40):
        sheet.turn(curses.KEY_UP, "1")
    assert str(sheet.given["1"]) == "5.0"
    assert "grade 2 as well" in sheet.lacking()
    for _ in range(3):
        sheet.turn(curses.KEY_NPAGE, "2")
    assert str(sheet.given["2"]) == "1.0"
    assert sheet.lacking() == ""
    sheet.turn(curses.KEY_DOWN, "1")
    assert "give it 5.0" in sheet.lacking()
    assert not sheet.turn(ord("x"), "1")
