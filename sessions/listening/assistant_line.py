"""The line between a session and the assistant who swaps its setups.

The session asks; the assistant's page shows what to connect and says when it is done. Nothing of it is kept, and
nothing of it reaches the listener.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from ..plans.plan import Plan
from . import players


@dataclass(frozen=True)
class Order:
    """One swap that is asked for: its number, its trial, what to connect, and within how many seconds."""

    number: int
    trial: int
    say: str
    seconds: int


class AssistantLine:
    """One session's line. Both sides may use it from threads of their own."""

    def __init__(self, plan: Plan, monotonic: Callable[[], float] = time.monotonic) -> None:
        self.plan = plan
        self._monotonic = monotonic
        self._told = threading.Condition()
        self._asking = threading.Lock()
        self._number = 0
        self._trial = 0
        self._say = ""
        self._end = 0.0
        self._done = 0  # the number of the last swap that was confirmed
        self._over = False

    def announce(self, trial: int) -> None:
        """Say which trial is on."""
        self._trial = trial

    def ask(self, place: int, seconds: float) -> bool:
        """Ask for the setup at a place; whether the assistant confirmed in time. Always the same words around it."""
        with self._asking, self._told:
            self._number += 1
            self._say, self._end = players.instruction(self.plan, place), self._monotonic() + seconds
            own = self._number
            self._told.wait_for(lambda: self._done == own or self._over, seconds)
            self._say = ""
            return self._done == own

    def order(self) -> Order | None:
        """What is asked for now; None while nothing is."""
        with self._told:
            if not self._say:
                return None
            left = max(0, round(self._end - self._monotonic()))
            return Order(self._number, self._trial, self._say, left)

    def done(self, number: int) -> bool:
        """Say that a swap is done; whether it was the one that is asked for."""
        with self._told:
            if not self._say or number != self._number:
                return False
            self._done = number
            self._told.notify_all()
            return True

    def close(self) -> None:
        """The session is over: whatever is asked for is not confirmed any more."""
        with self._told:
            self._over = True
            self._told.notify_all()


@dataclass
class Assistants:
    """The lines of the sessions that run in this process, by plan and listener."""

    _lines: dict[tuple[str, str], AssistantLine] = field(default_factory=dict)

    @contextmanager
    def line(self, plan: Plan, listener: str) -> Iterator[AssistantLine]:
        """A session's line, for as long as it runs."""
        made = self._lines[plan.name, listener] = AssistantLine(plan)
        try:
            yield made
        finally:
            self._lines.pop((plan.name, listener), None)
            made.close()

    def lines(self) -> dict[tuple[str, str], AssistantLine]:
        """The lines there are now, by plan and listener."""
        return dict(self._lines)
