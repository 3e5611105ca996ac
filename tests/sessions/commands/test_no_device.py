"""Without a device to play on nothing is begun: no session in the record, no end of it shown, no secret asked for."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from sessions.casebook.store import Casebook
from sessions.plans import drafting, seals, second_hand
from sessions.plans.plan_rows import Wish
from tests.answered_plans import PAIR
from tests.terminal import Terminal, command

MISSING = ("--device", "no such device")


@pytest.fixture
def terminal(request: pytest.FixtureRequest) -> Iterator[Terminal]:
    opened = Terminal(f"no-device-{abs(hash(request.node.name))}")
    yield opened
    opened.close()


@pytest.mark.parametrize("started", ["listen", "rehearse"])
@pytest.mark.parametrize("held", [False, True])
def test_it_is_looked_for_before_anything_is_begun(
    casebook: Casebook, terminal: Terminal, started: str, held: bool
) -> None:
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=6), "evening")
    ask = (lambda: second_hand.chosen("ten green bottles 1972 under the stairs")) if held else None
    seals.seal(casebook, "evening", ask_second=ask)
    terminal.run(command(casebook.folder, started, "evening", "--listener", "Ada", *MISSING))
    screen = terminal.wait("left with 2")
    assert "no sound device" in screen
    said = " ".join(screen.split())
    assert said.endswith("Everything that does not play works without it left with 2")  # that, and how it was left
    assert said.startswith("earwitness: no sound device")
    for kept in ("sessions", "session_marks"):
        assert casebook.query(f"SELECT * FROM {kept}") == []
