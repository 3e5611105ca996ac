"""A line between two programs of one user on one machine: a loopback socket, and a file that says where and how.

The file lies in the user's runtime folder, readable by them alone, and holds the port and a secret of this one line.
Both sides prove that they know the secret, without sending it, before anything else is said.
"""

from __future__ import annotations

import hmac
import json
import os
import queue
import secrets
import socket
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path

from ..casebook import documents, user_folders
from ..errors import CasebookError, ListenError

LOOPBACK = "127.0.0.1"
GREETING_S = 3.0  # both programs are on this machine; whoever takes longer to prove themselves is nobody we wait for
LONGEST_LINE = 10_000
TICK_S = 0.2


class Refused(Exception):
    """The other side did not prove that it knows the secret."""


@dataclass(frozen=True)
class Meeting:
    """Where the two sides meet, and the secret that both know."""

    port: int
    secret: str


class Line:
    """An open line: texts to and fro, each in one line. A context manager."""

    def __init__(self, connected: socket.socket) -> None:
        self._socket = connected
        self._unread = b""

    def __enter__(self) -> Line:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Hang up."""
        self._socket.close()

    def send(self, text: str) -> None:
        """Say a text of one line.

        Raises
        ------
        OSError
            If the other side left.
        """
        self._socket.settimeout(GREETING_S)
        self._socket.sendall(text.encode() + b"\n")

    def receive(self, seconds: float | None = None) -> str | None:
        """What the other side says next; None when nothing came in time.

        Raises
        ------
        OSError
            If the other side left, or says no end of it.
        """
        end = None if seconds is None else time.monotonic() + seconds
        while b"\n" not in self._unread:
            if end is not None and end - time.monotonic() <= 0:
                return None
            self._socket.settimeout(None if end is None else max(end - time.monotonic(), 0.001))
            try:
                part = self._socket.recv(4096)
            except TimeoutError:
                return None
            self._unread += part
            if not part or len(self._unread) > LONGEST_LINE:
                raise ConnectionError("the other side left")
        text, _, self._unread = self._unread.partition(b"\n")
        return text.decode(errors="replace")


class PrivateSocket:
    """The side that waits. Only who can read its file gets a line. A context manager; the file goes when it ends."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._secret = secrets.token_hex(32)
        self._open = True
        self._arrived: queue.SimpleQueue[Line] = queue.SimpleQueue()
        self._socket = _listening_socket()
        self._socket.settimeout(TICK_S)
        _write_for_this_user(path, documents.plain(Meeting(self._socket.getsockname()[1], self._secret)))
        self._door = threading.Thread(target=self._let_in, name="private socket", daemon=True)
        self._door.start()

    def __enter__(self) -> PrivateSocket:
        return self

    def __exit__(self, *exc: object) -> None:
        self._open = False
        self._door.join(TICK_S + GREETING_S)
        self._socket.close()
        self._path.unlink(missing_ok=True)
        while (line := self.line(0)) is not None:
            line.close()

    def line(self, seconds: float) -> Line | None:
        """A line to the next who came; None when nobody did in time."""
        try:
            return self._arrived.get(timeout=seconds) if seconds > 0 else self._arrived.get_nowait()
        except queue.Empty:
            return None

    def _let_in(self) -> None:
        while self._open:
            try:
                connected, _ = self._socket.accept()
            except TimeoutError:
                continue
            except OSError:
                return
            # each caller proves themselves in a thread of their own: a stranger who stays silent keeps nobody else out
            threading.Thread(target=self._greet, args=(Line(connected),), name="caller", daemon=True).start()

    def _greet(self, line: Line) -> None:
        try:
            _prove(line, self._secret, "waits", "calls")
        except (Refused, OSError):
            line.close()
            return
        self._arrived.put(line)
        if not self._open:  # proved too late: nobody waits any more
            line.close()


def call(path: Path) -> Line | None:
    """A line to the side that waits; None if nobody does.

    Raises
    ------
    ListenError
        If others could have written the file that says where.
    """
    check_private(path.parent)
    try:
        meeting = documents.from_text(path.read_text(encoding="utf-8"), Meeting)
        line = Line(socket.create_connection((LOOPBACK, meeting.port), GREETING_S))
    except (OSError, CasebookError):
        return None
    try:
        _prove(line, meeting.secret, "calls", "waits")
    except (Refused, OSError):
        line.close()
        return None
    return line


def runtime_folder() -> Path:
    """The folder for such files: this user's own, gone when they log out where the system has such a place.

    Without one it lies in the user's home, never in a folder that all users share.

    Raises
    ------
    ListenError
        If others can read or write it.
    """
    folder = user_folders.runtime()
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    check_private(folder)
    return folder


def check_private(folder: Path) -> None:
    """Nothing, if this user alone can use the folder.

    Raises
    ------
    ListenError
        If others can. On Windows the user's folders are private by their place.
    """
    if folder.exists() and not user_folders.is_this_users_alone(folder):
        raise ListenError(f"{folder} is open to others; remove it, then try again")


def _listening_socket() -> socket.socket:
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform == "win32":  # there another program could otherwise take the same port and our calls with it
        made.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
    made.bind((LOOPBACK, 0))
    made.listen()
    return made


def _write_for_this_user(path: Path, document: object) -> None:
    """Write a file that only this user may read; whoever looks for it finds it whole or not at all."""
    part = path.with_suffix(".part")
    part.unlink(missing_ok=True)
    with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
        json.dump(document, file)
    part.replace(path)


def _prove(line: Line, secret: str, own: str, other: str) -> None:
    """Prove to the other side that we know the secret, and have it prove the same; the roles keep echoes out."""
    asked = secrets.token_hex(16)
    line.send(asked)
    question = _heard(line)
    line.send(_proof(secret, own, question))
    if not hmac.compare_digest(_heard(line).encode(), _proof(secret, other, asked).encode()):
        raise Refused


def _heard(line: Line) -> str:
    text = line.receive(GREETING_S)
    if text is None:
        raise Refused
    return text


def _proof(secret: str, role: str, question: str) -> str:
    return hmac.new(secret.encode(), f"{role}|{question}".encode(), "sha256").hexdigest()
