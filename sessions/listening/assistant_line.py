"""The line between a session and the assistant who swaps its setups: a socket that only this user can open.

The session asks; the assistant's screen shows what to connect and answers when it is done. Nothing of it is kept, and
nothing of it reaches the listener.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import select
import socket
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from ..casebook.store import Casebook
from ..errors import ListenError
from ..plans import trial_keys
from ..plans.plan import Plan
from . import playback

LONGEST_PATH = 100  # a Unix socket's name holds about so many bytes


def address(casebook: Casebook, plan: Plan, listener_id: str) -> Path:
    """Where the two meet: a name that follows from casebook, plan and listener, in a folder of this user alone."""
    home = Path(os.environ.get("XDG_RUNTIME_DIR") or tempfile.gettempdir()) / f"earwitness-{os.getuid()}"
    home.mkdir(mode=0o700, exist_ok=True)
    if home.stat().st_uid != os.getuid() or home.stat().st_mode & 0o077:
        raise ListenError(f"{home} is open to others; remove it, then try again")
    name = hashlib.sha256(f"{casebook.folder.resolve()}|{plan.id}|{listener_id}".encode()).hexdigest()[:24]
    path = home / f"{name}.sock"
    if len(str(path)) > LONGEST_PATH:
        raise ListenError(f"{path} is too long a name for a socket; set XDG_RUNTIME_DIR to a shorter folder")
    return path


class Desk:
    """The session's side: it waits for an assistant and asks them. A context manager."""

    def __init__(self, path: Path, plan: Plan) -> None:
        self._plan = plan
        self._path = path
        path.unlink(missing_ok=True)
        self._listening = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._listening.bind(str(path))
        path.chmod(0o600)
        self._listening.listen(1)
        self._talking: socket.socket | None = None
        self._number = 0
        self._trial = 0
        self._lock = threading.Lock()

    def __enter__(self) -> Desk:
        return self

    def __exit__(self, *exc: object) -> None:
        with contextlib.suppress(OSError):
            self._send({"over": True})
        if self._talking is not None:
            self._talking.close()
        self._listening.close()
        self._path.unlink(missing_ok=True)

    def trial(self, number: int) -> None:
        """Say which trial is on."""
        self._trial = number

    def ask(self, place: int, seconds: float) -> bool:
        """Ask for the setup at a place; whether the assistant confirmed in time. Always the same words around it."""
        with self._lock:
            end = time.monotonic() + seconds
            self._number += 1
            asked = {"number": self._number, "trial": self._trial, "say": playback.instruction(self._plan, place)}
            return self._asked(asked | {"seconds": round(seconds)}, end)

    def _asked(self, order: dict[str, Any], end: float) -> bool:
        sent = False
        while (left := end - time.monotonic()) > 0:
            if self._talking is None and not self._welcome(left):
                continue
            try:
                if not sent:
                    self._send(order | {"seconds": round(left)})
                    sent = True
                line = _line(self._talking, end - time.monotonic())
            except OSError:  # the assistant's screen was closed; another may come
                if self._talking is not None:
                    self._talking.close()
                self._talking, sent = None, False
                continue
            if line is not None and json.loads(line).get("done") == order["number"]:
                return True
        return False

    def _welcome(self, seconds: float) -> bool:
        ready, _, _ = select.select([self._listening], [], [], min(seconds, 0.2))
        if ready:
            self._talking = self._listening.accept()[0]
        return bool(ready)

    def _send(self, document: dict[str, Any]) -> None:
        if self._talking is not None:
            self._talking.sendall(json.dumps(document).encode() + b"\n")


def orders(path: Path) -> Iterator[tuple[dict[str, Any], socket.socket]]:
    """The assistant's side: what is asked, one after the other, until the session is over; answer with `done`.

    Raises
    ------
    ListenError
        If no session is running there.
    """
    talking = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        talking.connect(str(path))
    except OSError as error:
        talking.close()
        raise ListenError(
            "no session of this plan and listener is running; start earwitness listen first, then this screen"
        ) from error
    with talking:
        while True:
            try:
                line = _line(talking, None)
            except OSError:
                return
            if line is None:
                continue
            order = json.loads(line)
            if order.get("over"):
                return
            yield order, talking


def done(talking: socket.socket, order: dict[str, Any]) -> None:
    """Say that it is connected."""
    with contextlib.suppress(OSError):
        talking.sendall(json.dumps({"done": order["number"]}).encode() + b"\n")


def cards(plan: Plan, secret: bytes, listener_id: str, offers: int = 2) -> list[str]:
    """The assistant's cards: for each trial and each time it is offered, what to connect for every label.

    They follow from the sealed secret, so they are shuffled as the trials are; whoever reads them knows the key.
    """
    made = []
    for trial in range(1, plan.slots + 1):
        for offer in range(1, offers + 1):
            key = trial_keys.key(plan.document, secret, listener_id, trial, offer)
            lines = [f"  {label}: {playback.instruction(plan, key[label])}" for label in plan.method.stimuli]
            again = "" if offer == 1 else f", offered again ({offer})"
            made.append("\n".join([f"Trial {trial}{again}", *lines]))
    return made


def _line(talking: socket.socket | None, seconds: float | None) -> str | None:
    """One line of the other side; None when none came in time.

    Raises
    ------
    OSError
        If the other side left.
    """
    assert talking is not None
    if seconds is not None:
        ready, _, _ = select.select([talking], [], [], max(seconds, 0))
        if not ready:
            return None
    gathered = b""
    while not gathered.endswith(b"\n"):
        part = talking.recv(1)
        if not part:
            raise ConnectionError("the other side left")
        gathered += part
    return gathered.decode()
