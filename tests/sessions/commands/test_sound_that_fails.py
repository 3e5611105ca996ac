"""The chair's screen where sound goes on failing: nobody is kept in a loop, q leaves, the record says what happened."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from sessions.casebook.store import Casebook
from sessions.listening import session
from sessions.listening.disturbances import ASKED_FROM
from sessions.listening.trial_runner import TrialRunner
from tests.casebooks import chain_holds
from tests.fakes import SilentPlayer, at_once
from tests.silent_evening import FailingPlayer
from tests.terminal import Terminal

ROOT = Path(__file__).parents[3]


@pytest.fixture
def usual() -> Iterator[Terminal]:
    opened = Terminal(f"earwitness-fails-{os.getpid()}", width=80)
    yield opened
    opened.close()


def failing(book: Path, how: str = "endless") -> str:
    """The command that listens to the plan with a sound that fails whatever is done."""
    program = [sys.executable, "-m", "tests.silent_evening", str(book), "evening", how]
    return shlex.join(["env", f"PYTHONPATH={ROOT}", *program])


def offers(casebook: Casebook) -> int:
    return int(casebook.query("SELECT count(*) AS n FROM trials")[0]["n"])


def test_under_endless_faults_it_asks_after_a_few_and_q_leaves_at_once(sealed: Casebook, usual: Terminal) -> None:
    usual.run(failing(sealed.folder))
    asked = usual.wait("The sound keeps being disturbed: no trial comes by itself.", 30)
    assert f"{ASKED_FROM} times in a row now." in " ".join(asked.split())
    assert "earwitness doctor" in asked
    assert "Enter: try again    q: stop" in asked
    assert offers(sealed) == ASKED_FROM
    usual.keys("x", "Space")  # nothing but the two keys goes on
    assert "keeps being disturbed" in usual.screen()
    assert offers(sealed) == ASKED_FROM
    usual.keys("Enter")
    usual.wait("One moment")
    usual.wait(f"{ASKED_FROM + 1} times in a row now", 10)
    usual.wait("keeps being disturbed", 10)
    assert offers(sealed) == ASKED_FROM + 1
    usual.keys("q")
    usual.wait("stopped", 3)
    assert chain_holds(sealed)
    assert sealed.query("SELECT count(DISTINCT trial_id) AS n FROM faults")[0]["n"] == ASKED_FROM + 1
    marks = [(row["what"], row["note"]) for row in sealed.query("SELECT what, note FROM session_marks ORDER BY seq")]
    again = [("paused", f"the sound was disturbed {n} times in a row") for n in (ASKED_FROM, ASKED_FROM + 1)]
    assert marks == [("begun", ""), again[0], ("resumed", ""), again[1]]


def test_q_typed_while_disturbed_trials_come_and_go_asks_whether_to_stop(sealed: Casebook, usual: Terminal) -> None:
    usual.run(failing(sealed.folder))
    usual.wait("One moment", 20)
    usual.keys("q")
    usual.wait("Stop here?", 10)
    usual.keys("y")
    usual.wait("stopped", 5)
    assert offers(sealed) < ASKED_FROM


def test_a_device_that_stays_away_is_asked_for_less_and_less_and_ends_in_one_line(
    sealed: Casebook, usual: Terminal
) -> None:
    usual.run(failing(sealed.folder, "lost"))
    usual.wait("Start quiet", 20)
    usual.keys("x")
    usual.wait("No sound: waiting for the device", 10)
    screen = " ".join(usual.wait("ended: ", 30).split())
    tries = int(screen.partition("ended: no sound device to play on, try ")[2].split()[0])
    assert 2 <= tries <= 4  # at once, after 1 s, after 2 s more, after 4 s more; one a second would be 7
    assert "nothing is lost, the same command goes on" in screen
    usual.wait("left with 0", 5)


def test_only_what_comes_in_a_row_is_asked_about(sealed: Casebook) -> None:
    player = FailingPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        for _ in range(ASKED_FROM - 1):
            runner.offer()
            assert runner.poll() is not None
            assert not runner.keeps_failing
        player.fails = False
        runner.offer()
        runner.hear("X")
        assert runner.answer("A", 2) is None
        player.fails = True
        for _ in range(ASKED_FROM):
            assert not runner.keeps_failing
            runner.offer()
            assert runner.poll() is not None
        assert runner.keeps_failing
        assert isinstance(player, SilentPlayer)
        runner.give_up()
        assert player.asked[-1] == "stop"
