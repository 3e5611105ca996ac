"""An evening of free listening at a real terminal, with the engine's process on a device without hardware."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from sessions.casebook import catalogue
from sessions.casebook.store import Casebook, open_casebook
from sessions.listening import free_session
from sessions.words import log
from tests.casebooks import chain_holds
from tests.command_line import earwitness
from tests.terminal import Terminal

ROOT = Path(__file__).parents[3]


def command(book: Path, *arguments: str) -> str:
    program = [sys.executable, "-m", "tests.free_evening", "--casebook", str(book), *arguments]
    return shlex.join(["env", f"PYTHONPATH={ROOT}", *program])


@pytest.fixture
def small() -> Iterator[Terminal]:
    """A terminal of the usual smallest size."""
    opened = Terminal(f"earwitness-free-{os.getpid()}", width=80, height=24)
    yield opened
    opened.close()


def test_an_evening_at_a_small_terminal(casebook: Casebook, small: Terminal) -> None:
    catalogue.add_listener(casebook, "Ada")
    book = casebook.folder
    casebook.close()
    small.run(command(book, "listen", "--free", "--setup", "sallow", "--setup", "bracken"))
    shown = small.wait("a b: hear")
    assert "Free listening, sighted: nothing of it counts; levels within 0.00 LU" in shown
    assert "Start quiet" in shown
    small.keys("a")
    small.wait(r"a +sallow +◀ on")
    small.keys("b")
    small.wait(r"b +bracken +◀ on")
    small.keys("w")
    at = small.wait(r"A word for bracken at 0:\d\d\.\d{3}: _")
    small.keys("Zu helle Höhen", "Enter")
    small.wait("Zu helle Höhen: strength 1")
    small.keys("4")
    small.wait(r"Zu helle Höhen 4: bracken, 0:\d\d\.\d{3}")
    small.keys("n")
    small.wait(r"\(2 of 2\)[^◀]*b +bracken +◀ on")
    small.keys("Space")
    small.wait("paused at")
    small.keys("q")
    ended = small.wait("left with 0")
    assert "1 word of Ada kept, sighted. Nothing of this evening counts." in " ".join(ended.split())
    with open_casebook(book) as opened:
        (word,) = log.words(opened)
        assert (word.term, word.strength, word.setup, word.blind) == ("Zu helle Höhen", 4, "bracken", False)
        shown_ms = round(1000 * float(at.partition("bracken at 0:")[2][:6]))
        assert word.track_ms == shown_ms
        heard = opened.query("SELECT passage, setups.name FROM free_auditions JOIN setups ON setups.id = setup_id")
        assert {(row["passage"], row["name"]) for row in heard} >= {(word.passage, "sallow"), (word.passage, "bracken")}
        assert chain_holds(opened)


def test_what_free_listening_refuses_is_said_in_a_line_and_begins_nothing(casebook: Casebook) -> None:
    catalogue.add_listener(casebook, "Ada")
    for words, says in (
        (("listen", "--free"), "needs a terminal"),
        (("listen", "--free", "evening"), "--free has no plan"),
        (("listen", "--setup", "sallow"), "belong to --free"),
        (("listen", "--free", "--setup", "sallow"), "switches between 2 to 8 different setups; got sallow"),
        (("listen", "--free", "--from", "0:01"), "name it with --track"),
        (("listen", "--free", "--track", "willow"), "no track called 'willow'"),
        (("listen", "--free", "--listener", "Adda"), "did you mean 'Ada'?"),
    ):
        done = earwitness(casebook.folder, *words)
        assert (done.returncode, says in done.stderr, done.stderr.count("\n")) == (2, True, 1), done.stderr
    assert casebook.query("SELECT * FROM sessions") == []


def test_a_second_evening_at_once_is_refused(casebook: Casebook, small: Terminal) -> None:
    ada = catalogue.add_listener(casebook, "Ada")
    setups = [catalogue.find(casebook, catalogue.Setup, name) for name in ("sallow", "bracken")]
    with free_session.begin(casebook, ada, setups, "none: test"):
        small.run(command(casebook.folder, "listen", "--free"))
        small.wait("left with 2")
        assert "free listening of Ada" in " ".join(small.screen().split())
