"""What the assistant reads at a terminal of 80 columns."""

from __future__ import annotations

import pytest

from sessions.commands import assist
from sessions.listening.assistant_line import Order
from tests.command_line import Keyboard


def test_a_long_instruction_is_broken_between_words(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = Keyboard()
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr("sys.stdout", shown)
    swap = "both cables to the terminals of sallow, red to red, and bracken's pair short-circuit free on the floor"
    assist._tell(Order(number=3, trial=12, seconds=60, say=swap))
    lines = shown.getvalue().splitlines()
    assert all(len(line) <= 80 for line in lines)
    assert " ".join(lines).split() == f"Swap 3 (trial 12, within 60 s): {swap}".split()
