"""The command `train` at a real terminal, with the engine's process on a device without hardware."""

from __future__ import annotations

import os
import re
import shlex
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from sessions.casebook.store import Casebook, open_casebook
from tests.terminal import Terminal

SOUNDS = {"a": r"\n +▲ on", "b": r"heard +▲ on", "c": r"heard +heard +▲ on"}
ROOT = Path(__file__).parents[3]


@pytest.fixture
def small() -> Iterator[Terminal]:
    opened = Terminal(f"earwitness-train-{os.getpid()}", width=80, height=24)
    yield opened
    opened.close()


def test_training_tells_after_each_answer_and_plays_them_again_by_name(sealed: Casebook, small: Terminal) -> None:
    book = sealed.folder
    sealed.close()
    program = [sys.executable, "-m", "tests.free_evening", "--casebook", str(book)]
    small.run(shlex.join(["env", f"PYTHONPATH={ROOT}", *program, "train", "evening", "--artefact", "level"]))
    shown = " ".join(small.wait("a b c: hear").split())
    assert "a drop of level" in shown
    assert "a band may get up to 12 dB more" in shown  # the screen hides what was said before it
    for one in "abc":
        small.keys(one)
        small.wait(SOUNDS[one])
    small.keys("Enter")
    small.wait("this one is changed")
    small.keys("b")
    told = small.wait(r"was changed: a drop of level(?s:.*)Enter: next")
    assert re.search(r"Right\. B was changed|Not this time\. [AC] was changed", told)
    small.keys("c")
    small.wait(r"▲ on")  # what was answered can be heard again
    small.keys("Enter")
    small.wait(r"trial 2(?s:.*)a b c: hear")
    small.keys("q")
    small.wait("Stop here")
    small.keys("y")
    small.wait(r"TRAINING: [01] of 1 right")
    with open_casebook(book) as casebook:
        assert casebook.query("SELECT count(*) AS n FROM threshold_answers") == [{"n": 1}]
        assert casebook.query("SELECT what FROM session_marks ORDER BY seq") == [{"what": "begun"}, {"what": "stopped"}]
