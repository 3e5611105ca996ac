"""The assistant who swaps setups: what they are asked, what their cards say, and that nobody else reads it."""

from __future__ import annotations

import json
import socket
import stat
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from sessions.casebook import playback_chain
from sessions.casebook.playback_chain import SwitchWish
from sessions.casebook.store import Casebook, create
from sessions.errors import ListenError
from sessions.listening import assistant_cards, assistant_line, private_socket
from sessions.listening.assistant_line import AssistantLine, Order
from sessions.listening.trial_order import TrialOrder
from sessions.plans.plan import Plan

LISTENER = "listener-ada"


@pytest.fixture
def plan() -> Plan:
    setups = [
        {
            "setup": f"setup-{name}",
            "name": name,
            "kind": playback_chain.SWITCHED,
            "chain": playback_chain.switched(
                "box:1,2", SwitchWish("assistant", f"cables to {name}", hold_ms=3000)
            ).to_document(),
        }
        for name in ("sallow", "bracken")
    ]
    return Plan({"plan": "plan-swap", "name": "swap", "method": "abx", "setups": setups, "trials": 4})


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Casebook]:
    with create(tmp_path / "book") as made:
        yield made


@pytest.fixture
def path(plan: Plan, book: Casebook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    return assistant_line.address(book, plan, LISTENER)


class Assistant:
    """An assistant who confirms only what they are willing to do, in a thread of their own."""

    def __init__(self, path: Path, willing: str = "cables to sallow", most: int = 100) -> None:
        self.path, self.willing, self.most = path, willing, most
        self.seen: list[Order] = []
        self._thread = threading.Thread(target=self._work)
        self._thread.start()

    def _work(self) -> None:
        for order, done in assistant_line.orders(self.path):
            self.seen.append(order)
            if order.say == self.willing:
                done()
            if len(self.seen) == self.most:
                return

    def gone(self) -> bool:
        self._thread.join(5)
        return not self._thread.is_alive()


def test_the_assistant_is_asked_one_swap_after_the_other_until_the_session_is_over(plan: Plan, path: Path) -> None:
    with AssistantLine(path, plan) as line:
        assistant = Assistant(path)
        line.announce(1)
        assert line.ask(0, 5.0)
        began = time.monotonic()
        assert not line.ask(1, 0.5)  # this one is not confirmed
        assert 0.4 < time.monotonic() - began < 2
        line.announce(2)
        assert line.ask(0, 5.0)
    assert assistant.gone()
    assert [(order.number, order.trial, order.say, order.seconds) for order in assistant.seen] == [
        (1, 1, "cables to sallow", 5),
        (2, 1, "cables to bracken", 0),
        (3, 2, "cables to sallow", 5),
    ]
    assert not path.exists()


def test_another_screen_takes_over_where_one_was_closed(plan: Plan, path: Path) -> None:
    with AssistantLine(path, plan) as line:
        first = Assistant(path, most=1)
        assert line.ask(0, 5.0)
        assert first.gone()
        second = Assistant(path)
        assert line.ask(0, 5.0)
    assert second.gone()
    assert [order.number for order in second.seen] == [2]


def test_without_an_assistant_nothing_is_confirmed(plan: Plan, path: Path) -> None:
    with pytest.raises(ListenError, match="no session of this plan and listener is running"):
        next(assistant_line.orders(path))
    with AssistantLine(path, plan) as line:
        assert not line.ask(0, 0.3)


def test_the_orders_reach_nobody_who_cannot_read_the_file(plan: Plan, path: Path) -> None:
    """What is to be connected tells the key: another user of the machine can find the port, and learns nothing."""
    with AssistantLine(path, plan) as line:
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
        port = json.loads(path.read_text(encoding="utf-8"))["port"]
        with socket.create_connection((private_socket.LOOPBACK, port)) as stranger:
            stranger.settimeout(2.0)
            stranger.sendall(b"let me in\n" + b"0" * 64 + b"\n")
            assert not line.ask(0, 0.5)
            heard = b""
            while part := stranger.recv(4096):
                heard += part
        assert b"cables" not in heard
        assistant = Assistant(path)
        assert line.ask(0, 5.0)  # the stranger does not keep the assistant out
    assert assistant.gone()


def test_plan_and_listener_have_a_line_of_their_own(plan: Plan, path: Path, book: Casebook) -> None:
    other = Plan({**plan.document, "plan": "plan-other"})
    assert assistant_line.address(book, plan, LISTENER) == path
    assert assistant_line.address(book, other, LISTENER) != path
    assert assistant_line.address(book, plan, "listener-bo") != path


def test_the_cards_say_what_the_key_says(plan: Plan) -> None:
    order = TrialOrder(plan, bytes(32), LISTENER)
    cards = assistant_cards.cards(order)
    assert len(cards) == 8  # four trials, each once more
    for place, card in enumerate(cards):
        trial, offer = place // 2 + 1, place % 2 + 1
        head, *lines = card.splitlines()
        assert head == f"Trial {trial}" + (", offered again (2)" if offer == 2 else "")
        key = order.key(trial, offer)
        assert lines == [f"  {label}: cables to {plan.setups[key[label]].name}" for label in ("A", "B", "X")]
