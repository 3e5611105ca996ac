"""The assistant who swaps setups: what they are asked, and what their cards say."""

from __future__ import annotations

import threading
import time

import pytest

from sessions.casebook import playback_chain
from sessions.casebook.playback_chain import SwitchWish
from sessions.listening import assistant_cards
from sessions.listening.assistant_line import AssistantLine, Assistants, Order
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


class Assistant:
    """An assistant who confirms only what they are willing to do, in a thread of their own."""

    def __init__(self, line: AssistantLine, willing: str = "cables to sallow") -> None:
        self.seen: list[Order] = []
        self._line, self._willing, self._here = line, willing, True
        self._thread = threading.Thread(target=self._work)

    def __enter__(self) -> Assistant:
        self._thread.start()
        return self

    def __exit__(self, *exc: object) -> None:
        self._here = False
        self._thread.join()

    def _work(self) -> None:
        while self._here:
            order = self._line.order()
            if order is not None and order.number not in [one.number for one in self.seen]:
                self.seen.append(order)
                if order.say == self._willing:
                    assert self._line.done(order.number)
            time.sleep(0.005)


def test_the_assistant_is_asked_one_swap_after_the_other(plan: Plan) -> None:
    line = AssistantLine(plan)
    with Assistant(line) as assistant:
        line.announce(1)
        assert line.ask(0, 5.0)
        began = time.monotonic()
        assert not line.ask(1, 0.3)  # this one is not confirmed
        assert 0.25 < time.monotonic() - began < 2
        line.announce(2)
        assert line.ask(0, 5.0)
    assert line.order() is None
    assert [(order.number, order.trial, order.say, order.seconds) for order in assistant.seen] == [
        (1, 1, "cables to sallow", 5),
        (2, 1, "cables to bracken", 0),
        (3, 2, "cables to sallow", 5),
    ]


def test_what_is_said_to_be_done_too_late_or_of_another_swap_confirms_nothing(plan: Plan) -> None:
    line = AssistantLine(plan)
    assert not line.ask(0, 0.01)
    assert not line.done(1)
    with Assistant(line, willing="nothing"):
        asked = threading.Thread(target=lambda: line.ask(1, 0.2))
        asked.start()
        while line.order() is None:
            time.sleep(0.001)
        assert not line.done(1)
        assert not line.done(3)
        asked.join()


def test_a_session_that_ends_waits_for_no_assistant(plan: Plan) -> None:
    assistants, said = Assistants(), list[bool]()
    with assistants.line(plan, "Ada") as line:
        asked = threading.Thread(target=lambda: said.append(line.ask(0, 60.0)))
        asked.start()
        while line.order() is None:
            time.sleep(0.001)
        assert list(assistants.lines()) == [("swap", "Ada")]
    asked.join(5)
    assert said == [False]
    assert assistants.lines() == {}


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
