"""Every byte, header and moment that reaches a listener's page in 200 trials: nothing of it tells what X is.

What could be made of the bytes is tried by `tests.stopwatch.telling`: sizes, hashes, names and order of headers, how
many requests were needed, and how long each took by a clock that runs by the work done. An app that tells is found.
"""

from __future__ import annotations

import asyncio
import json
import re
import time
from collections.abc import Callable
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from audio.engine.playback import Position
from sessions.chair.sitting_down import House, seated
from sessions.pages.app import create_app
from sessions.pages.joining import Claim, Guests
from sessions.pages.room import Room
from sessions.plans.methods.method import Key
from tests import stopwatch
from tests.sessions.pages.conftest import TRIALS
from tests.stopwatch import Clock, Measured, WorkingPlayer

HOST = "127.0.0.1:8421"
VARIES = re.compile(
    r'"(trial_id|trial|answered|passage)": ?("[^"]*"|\d+)'
)  # numbers of the trial; drawn apart from the key


@dataclass(frozen=True)
class Heard:
    """A response: its status, its headers as they came, its body in its parts, and how long it took."""

    status: int
    headers: tuple[tuple[bytes, bytes], ...]
    parts: tuple[bytes, ...]
    seconds: float

    @property
    def body(self) -> bytes:
        return b"".join(self.parts)


@dataclass
class Line:
    """A browser without one: requests as they are written, responses to the last byte."""

    app: ASGIApp
    clock: Clock
    cookie: str = ""
    heard: list[Heard] = field(default_factory=list)

    async def ask(self, path: str, body: Any = None) -> Any:
        return json.loads(await self.fetch(path, body))

    async def fetch(self, path: str, body: Any = None) -> bytes:
        headers = {"host": HOST, "origin": f"http://{HOST}", "content-type": "application/json", "cookie": self.cookie}
        scope = {
            "type": "http", "http_version": "1.1", "method": "GET" if body is None else "POST", "scheme": "http",
            "path": path, "raw_path": path.encode(), "query_string": b"", "root_path": "", "client": ("phone", 1),
            "server": ("127.0.0.1", 8421),
            "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
        }  # fmt: skip
        sent, begun = list[Message](), self.clock.monotonic()

        async def receive() -> Message:
            return {"type": "http.request", "body": json.dumps(body).encode(), "more_body": False}

        async def send(message: Message) -> None:
            sent.append(message)

        await self.app(scope, receive, send)
        start, *rest = sent
        took = self.clock.monotonic() - begun
        parts = tuple(message["body"] for message in rest)
        self.heard.append(Heard(start["status"], tuple(map(tuple, start["headers"])), parts, took))
        self.cookie = self.cookie or dict(start["headers"]).get(b"set-cookie", b"").decode().partition(";")[0]
        return b"".join(parts)


class NearPlayer(WorkingPlayer):
    """A working player whose music is always near its start: the prepared files are tiny."""

    def play(self, index: int) -> None:
        super().play(index)
        self.at = Position(index, 10, True)


@contextmanager
def unsafe(house: House, plan: str, listener: str, device: str | None) -> Any:
    """A chair whose casebook is not to outlast the test, and whose commits take their time by the test's clock."""
    with seated(house, plan, listener, device) as chair:
        connection = chair.runner.session.casebook.db.conn
        connection.executescript("PRAGMA synchronous = OFF; PRAGMA journal_mode = MEMORY")
        clock = house.monotonic.__self__  # type: ignore[attr-defined]
        connection.set_trace_callback(lambda sql: clock.work(0.004) if sql == "COMMIT" else None)
        yield chair


Leak = Callable[[ASGIApp, Room], ASGIApp]


def measured(
    folder: Path, leak: Leak = lambda app, room: app, trials: int = TRIALS
) -> tuple[dict[str, Measured], set[bytes]]:
    """What was measured of each trial of an evening, and the responses that are left when numbers are masked."""
    clock = Clock(7)
    house = House(
        folder,
        open_player=lambda plan, device, ask: nullcontext(NearPlayer(clock)),
        monotonic=clock.monotonic,
        sleep=clock.sleep,
    )
    room = Room(house, Guests(), open_chair=unsafe)
    app = leak(create_app(room, [HOST], f"http://{HOST}"), room)
    try:
        return asyncio.run(_evening(Line(app, clock), room, trials))
    finally:
        room.close()


async def _evening(line: Line, room: Room, trials: int) -> tuple[dict[str, Measured], set[bytes]]:
    kinds = ("a trial", "a trial on its way", "after an answer", "the next trial")
    found, left = {kind: Measured() for kind in kinds}, set[bytes]()
    await line.ask("/join", {"code": room.guests.code})
    await line.ask("/chair/sit", {"plan": "evening", "listener": "Ada"})
    await line.ask("/chair/press", {"trial": "", "do": "begin"})
    at, before = await _come(line), None
    for _ in range(trials):
        key = await _key(room)
        trial = at["view"]["trial_id"]
        line.heard.clear()
        await line.ask("/chair/now")
        for label in at["asked"]["labels"]:
            await line.ask("/chair/press", {"trial": trial, "do": "hear", "label": label})
        await line.ask("/chair/press", {"trial": trial, "do": "pause"})
        word = {"trial": trial, "nonce": f"word {trial}", "line": "thin 2", "stimulus": "X", "track_ms": 5}
        await line.ask("/chair/word", word)
        await line.ask("/chair/answer", {"trial": trial, "nonce": trial, "sureness": 2, "choice": "A"})
        during = list(line.heard)
        line.heard.clear()
        begun = line.clock.monotonic()
        if at["view"]["trial"] < at["asked"]["trials"]:
            at = await _come(line)
            coming = {"seconds": line.clock.monotonic() - begun, "bodies": _masked(line.heard)}
            found["a trial on its way"].add(await _key(room), coming)
            found["after an answer"].add(key, coming)
        found["a trial"].add(key, _values(during))
        if before is not None:  # the first trial says that one should start quiet
            left |= {*_masked(during)}
            found["the next trial"].add(before, _values(during))
        before = key
    return found, left


def _masked(heard: list[Heard]) -> tuple[bytes, ...]:
    """The different bodies, without the numbers of trials."""
    return tuple(sorted({VARIES.sub(r'"\1": 0', one.body.decode()).encode() for one in heard}))


async def _come(line: Line) -> Any:
    end = time.monotonic() + 60
    while (at := await line.ask("/chair/now"))["asking"] != "hear":
        assert time.monotonic() < end
        await asyncio.sleep(0.001)
    return at


async def _key(room: Room) -> Key:
    """The trial's key, out of the chair's own thread: as a test may, and no page can."""
    seat = room.seat_at(Claim("evening", "Ada"))
    assert seat is not None
    return await asyncio.wrap_future(seat.ask(lambda chair: chair.runner.current.key))


def _values(heard: list[Heard]) -> dict[str, Any]:
    """Everything about the responses of a trial: each by itself, and all together."""
    values: dict[str, Any] = {"requests": len(heard), "bytes": sum(len(one.body) for one in heard)}
    for number, one in enumerate(heard):
        values |= {
            f"{number} status": one.status,
            f"{number} size": len(one.body),
            f"{number} parts": len(one.parts),
            f"{number} header bytes": sum(len(name) + len(value) for name, value in one.headers),
            f"{number} header names": tuple(name for name, _ in one.headers),
            f"{number} headers": one.headers,
            f"{number} hash": sha256(VARIES.sub("", one.body.decode()).encode()).hexdigest(),
            f"{number} first bits of its hash": sha256(one.body).digest()[0],
            f"{number} order of names": tuple(re.findall(r'"(\w+)":', one.body.decode())),
            f"{number} seconds": round(one.seconds, 9),
        }
    return values


def test_no_byte_header_or_moment_of_200_trials_tells_x(evening: Path) -> None:
    found, left = measured(evening)
    assert len(found["a trial"].keys) == TRIALS
    assert stopwatch.telling(found) == []
    assert len(left) == 7  # what is asked, four presses, a word, an answer: to the byte the same in every trial


def told_in(what: str) -> Leak:
    """An app that tells X, by one more byte, by a header, by the order of names, or by a moment."""

    def leak(app: ASGIApp, room: Room) -> ASGIApp:
        async def telling(scope: Scope, receive: Receive, send: Send) -> None:
            seat = room.seat_at(Claim("evening", "Ada"))
            x = 0
            if (
                seat is not None
                and seat.view is not None
                and seat.view.trial
                and scope["path"].startswith("/chair/press")
            ):
                x = (await _key(room))["X"]

            async def told(message: Message) -> None:
                if x and what == "size" and message["type"] == "http.response.body":
                    message["body"] += b" "
                if x and what == "header" and message["type"] == "http.response.start":
                    message["headers"].reverse()
                await send(message)

            if what == "moment":
                room.house.sleep(0.002 * x)
            await app(scope, receive, told)

        return telling

    return leak


@pytest.mark.parametrize("what", ["size", "header", "moment"])
def test_an_app_that_tells_is_found(evening: Path, what: str) -> None:
    found, _ = measured(evening, told_in(what), trials=60)
    said = stopwatch.telling(found)
    by = {"size": ("size", "hash", "bytes"), "header": ("header",), "moment": ("seconds",)}[what]
    assert any(name in one for one in said for name in by)
