"""The first evening as it is typed: two folders become a verdict at a small terminal, by the commands that are told."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from sessions.casebook.catalogue import Listener, find
from sessions.casebook.store import open_casebook
from sessions.listening.trial_order import TrialOrder
from sessions.plans import seals
from tests.terminal import Terminal

ROOT = Path(__file__).parents[3]
TRIALS = 5  # all right by guessing in 1 of 32 evenings
PROMPT = r"(.|\n)*\n\$\s*$"
COMPARE = f"earwitness compare sallow bracken --trials {TRIALS} --listener Ada"


@pytest.fixture
def home(rendered: Path, tmp_path: Path) -> Path:
    """Two folders of one recording, and a program `earwitness` that has a silent device."""
    for name in ("sallow", "bracken"):
        (tmp_path / name).mkdir()
        shutil.copy(rendered / name / "drums.flac", tmp_path / name)
    program = tmp_path / "bin" / "earwitness"
    program.parent.mkdir()
    program.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m tests.first_evening "$@"\n')
    program.chmod(0o755)
    return tmp_path


@pytest.fixture
def shell(home: Path) -> Iterator[Terminal]:
    """A shell there, 80 columns wide and 24 lines high."""
    opened = Terminal(f"earwitness-first-{os.getpid()}", width=80, height=24)
    paths = f"PATH={home / 'bin'}:{os.environ['PATH']} PYTHONPATH={ROOT}"
    opened.run(f"cd {shlex.quote(str(home))} && env -u COLUMNS {paths} PS1='$ ' bash --norc --noprofile")
    opened.wait(r"\$ ")
    yield opened
    opened.close()


def types(shell: Terminal, command: str, until: str) -> str:
    """Clear the screen, type a command, and what is said until something comes."""
    shell.type(f"clear; {command}")
    shell.keys("Enter")
    return shell.wait(until)


def answer(shell: Terminal, home: Path, trial: int) -> None:
    """Answer a trial as somebody who hears it, by looking at the key (as a test may)."""
    with open_casebook(home / "sallow-vs-bracken") as casebook:
        sealed = seals.sealed_plan(casebook, "abx-1")
        order = TrialOrder(sealed.plan, seals.unlock(casebook, sealed).coin_key, find(casebook, Listener, "Ada").id)
        key = order.key(trial, 1)
    shell.wait(f"trial {trial} of {TRIALS}(.|\n)*x: hear")
    shell.keys("x", "Enter")
    shell.wait("Your answer")
    shell.keys("a" if key["X"] == key["A"] else "b")
    shell.wait("How sure")
    shell.keys("3")


def last_command(screen: str) -> str:
    """What is told to be typed next, as it stands on the screen's last lines."""
    lines = [line.rstrip() for line in screen.splitlines() if line.strip() not in ("", "$")]
    found = re.search(r"earwitness .*$", lines[-1])
    assert found is not None, screen
    return found[0]


def test_two_folders_become_a_verdict_by_the_commands_that_are_told(home: Path, shell: Terminal) -> None:
    page = types(shell, COMPARE, r"Seal this plan\? \[Y/n\]:")
    for essential in ("passage of  from", "No giveaway found.", "match show", "Shown if", "Level match: "):
        assert essential in page  # all on the last page
    shell.keys("n", "Enter")
    kept = shell.wait(r"seal it:" + PROMPT)
    assert "Not sealed. The draft is kept" in kept
    assert last_command(kept) == "earwitness --casebook sallow-vs-bracken seal abx-1"

    again = types(shell, COMPARE, r"Seal this plan\? \[Y/n\]:")
    assert "it goes on where it was" in " ".join(again.split())
    shell.keys("y", "Enter")
    assert "Publish this before the first trial" in shell.wait("once it is published:")
    shell.keys("Enter")
    film = shell.wait("press a key to go on")
    witness = r"earwitness --casebook sallow-vs-bracken witness \S+ --by WHO "
    assert re.search(witness, " ".join(film.split()))
    assert "▀" in film  # the code to be filmed has room beside the words, and the commands under them
    shell.keys("Space")
    answer(shell, home, 1)
    answer(shell, home, 2)
    shell.wait(f"trial 3 of {TRIALS}")
    shell.keys("q", "y")
    stopped = shell.wait("To take it up again:" + PROMPT)
    assert f"Stopped after 2 of {TRIALS} trials" in stopped
    assert re.search(f"^{witness.rstrip()} *$", stopped, flags=re.MULTILINE)  # whole, in one line
    assert last_command(stopped) == "earwitness --casebook sallow-vs-bracken listen abx-1 --listener Ada"

    types(shell, "earwitness --casebook sallow-vs-bracken listen", "press a key to go on")
    shell.keys("Space")
    for trial in range(3, TRIALS + 1):
        answer(shell, home, trial)
    ended = shell.wait("The result:" + PROMPT)
    assert "Plan 'abx-1', for Ada." in shell.history()
    assert f"All {TRIALS} trials are answered" in ended
    told = types(shell, last_command(ended), PROMPT)
    assert "a difference was HEARD" in shell.history()
    assert f"{TRIALS} of {TRIALS} right" in " ".join(told.split())
    long = [line for line in shell.history().splitlines() if len(line.rstrip()) > 80]
    assert [line for line in long if "Sealed 20" not in line] == []  # that line is to be published as one
