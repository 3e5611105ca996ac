"""The assistant's cards and line: what they say, and who can open it."""

from __future__ import annotations

import os
import tempfile
import threading
import time
from typing import Any

import pytest

from sessions.casebook.store import Casebook
from sessions.errors import ListenError
from sessions.listening import assistant_line, session
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.plan import Plan


def sealed_swap(casebook: Casebook, trials: int = 4) -> tuple[Plan, bytes, str]:
    drafting.draft(casebook, plan_rows.Wish("abx", listeners=("Ada",), trials=trials, operator="Bo"), "swap")
    plan = seals.seal(casebook, "swap").plan
    secret = bytes.fromhex(casebook.query("SELECT secret FROM secrets")[0]["secret"])
    return plan, secret, plan.listeners[0].id


def test_the_cards_say_what_the_key_says(swapped: Casebook) -> None:
    plan, secret, listener = sealed_swap(swapped)
    cards = assistant_line.cards(plan, secret, listener)
    assert len(cards) == 8  # four trials, each once more
    with session.begin(swapped, "swap", "Ada", "none") as running:
        for trial in range(4):
            offered = running.next_trial()
            assert offered is not None
            lines = cards[2 * trial].splitlines()
            assert lines[0] == f"Trial {trial + 1}"
            for line, label in zip(lines[1:], ("A", "B", "X"), strict=True):
                assert line == f"  {label}: cables to {plan.setups[offered.key[label]].name}"
            running.answer(offered, "A", 1, 1)


def test_the_assistant_is_asked_over_a_line_that_only_this_user_can_open(
    swapped: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", tempfile.mkdtemp())  # pytest's own folders have names too long for a socket
    plan, _, listener = sealed_swap(swapped)
    path = assistant_line.address(swapped, plan, listener)
    with pytest.raises(ListenError, match="no session of this plan and listener is running"):
        next(assistant_line.orders(path))
    seen: list[dict[str, Any]] = []

    def assistant() -> None:
        for order, talking in assistant_line.orders(path):
            seen.append(order)
            if order["say"] == "cables to sallow":
                assistant_line.done(talking, order)

    with assistant_line.Desk(path, plan) as line:
        assert os.stat(path).st_mode & 0o777 == 0o600
        helper = threading.Thread(target=assistant)
        helper.start()
        line.trial(1)
        assert line.ask(0, 5.0)
        began = time.monotonic()
        assert not line.ask(1, 0.5)  # this one is not confirmed
        assert 0.4 < time.monotonic() - began < 2
        assert line.ask(0, 5.0)
    helper.join(5)
    assert not helper.is_alive()
    assert [order["number"] for order in seen] == [1, 2, 3]
    assert seen[0]["trial"] == 1
    assert not path.exists()
