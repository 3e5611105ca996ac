"""The line between a session and the assistant who swaps its setups.

The session asks; the assistant's screen shows what to connect and answers when it is done. Nothing of it is kept, and
nothing of it reaches the listener.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from ..casebook import documents
from ..casebook.store import Casebook
from ..errors import ListenError
from ..plans.plan import Plan
from . import players, private_socket
from .private_socket import Line, PrivateSocket

OVER = "over"
WELCOME_S = 0.2
TICK_S = 1.0  # no wait without end: on Windows it could not be stopped from the keyboard


@dataclass(frozen=True)
class Order:
    """One swap that is asked for: its number, its trial, what to connect, and within how many seconds."""

    number: int
    trial: int
    say: str
    seconds: int


def address(casebook: Casebook, plan: Plan, listener_id: str) -> Path:
    """Where the two meet: a file whose name follows from casebook, plan and listener, in a folder of this user alone.

    Raises
    ------
    ListenError
        If others can use that folder.
    """
    name = hashlib.sha256(f"{casebook.folder.resolve()}|{plan.id}|{listener_id}".encode()).hexdigest()[:24]
    return private_socket.runtime_folder() / f"{name}.line"


class AssistantLine:
    """The session's side: it waits for an assistant and asks them. A context manager."""

    def __init__(self, path: Path, plan: Plan) -> None:
        self._plan = plan
        self._socket = PrivateSocket(path)
        self._line: Line | None = None
        self._number = 0
        self._trial = 0
        self._lock = threading.Lock()

    def __enter__(self) -> AssistantLine:
        return self

    def __exit__(self, *exc: object) -> None:
        while self._line is not None or self._welcome(0):
            with contextlib.suppress(OSError):
                self._talking.send(OVER)
            self._hang_up()
        self._socket.__exit__(*exc)

    def announce(self, trial: int) -> None:
        """Say which trial is on."""
        self._trial = trial

    def ask(self, place: int, seconds: float) -> bool:
        """Ask for the setup at a place; whether the assistant confirmed in time. Always the same words around it."""
        with self._lock:
            end = time.monotonic() + seconds
            self._number += 1
            say = players.instruction(self._plan, place)
            return self._confirmed(Order(self._number, self._trial, say, round(seconds)), end)

    def _confirmed(self, order: Order, end: float) -> bool:
        sent = False
        while (left := end - time.monotonic()) > 0:
            if self._line is None and not self._welcome(min(left, WELCOME_S)):
                continue
            try:
                if not sent:
                    self._talking.send(json.dumps(documents.plain(replace(order, seconds=round(left)))))
                    sent = True
                said = self._talking.receive(end - time.monotonic())
            except OSError:  # the assistant's screen was closed; another may come
                self._hang_up()
                sent = False
                continue
            if said == str(order.number):
                return True
        return False

    @property
    def _talking(self) -> Line:
        assert self._line is not None
        return self._line

    def _welcome(self, seconds: float) -> bool:
        self._line = self._socket.line(seconds)
        return self._line is not None

    def _hang_up(self) -> None:
        if self._line is not None:
            self._line.close()
        self._line = None


def orders(path: Path) -> Iterator[tuple[Order, Callable[[], None]]]:
    """The assistant's side: what is asked, one after the other, until the session is over; call back when it is done.

    Raises
    ------
    ListenError
        If no session is running there.
    """
    line = private_socket.call(path)
    if line is None:
        raise ListenError(
            "no session of this plan and listener is running; start earwitness listen first, then this screen"
        )

    def done(number: int) -> Callable[[], None]:
        def confirm() -> None:
            with contextlib.suppress(OSError):
                line.send(str(number))

        return confirm

    with line:
        while True:
            try:
                said = line.receive(TICK_S)
            except OSError:
                return
            if said is None:
                continue
            if said == OVER:
                return
            order = documents.from_text(said, Order)
            yield order, done(order.number)
