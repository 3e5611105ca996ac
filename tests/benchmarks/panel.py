"""A panel of pages without browsers: each joins, sits, hears and answers as a page does that plays by itself.

``python -m tests.benchmarks.panel PORT CODE LISTENERS TRIALS burst|arriving``: a process of its own, so that it takes
none of the server's time; what was said to each answer, and after how long, is told on standard output.
"""

from __future__ import annotations

import asyncio
import gc
import json
import random
import sys
import time
import zlib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from audio.files.wav_bytes import HEADER_BYTES

PLAN = "evening"
OUTPUT = {"rate_hz": 48000, "channels": 2, "device": "headphones", "base_latency_s": 0.02, "output_latency_s": 0.0}
POLL_S = 0.4  # as pages do (static/chair.js)
THINKS_S = 3.0  # on average, from a trial's being there to its answer, where answers arrive by themselves
RETRY_S = 0.4
IDLE_S = 3.0  # servers close what is silent for some seconds
PATIENCE_S = 120.0
SAID_AGAIN = 0.1  # of the answers are sent once more after they were kept

How = Literal["burst", "arriving"]


@dataclass(frozen=True)
class Acknowledged:
    """An answer that was said to be kept, and how long its sender waited for that, in seconds."""

    listener: str
    trial: str
    choice: str
    sureness: int
    waited_s: float
    tries: int


class Connection:
    """One connection of a page, kept open."""

    def __init__(self, port: int, cookies: list[str]) -> None:
        self._port = port
        self._cookies = cookies
        self._ends: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None
        self._turn = asyncio.Lock()
        self._used = 0.0

    async def ask(self, path: str, record: Any = None) -> tuple[int, bytes]:
        """Status and body of what is said to a request."""
        async with self._turn:
            if self._ends is not None and time.monotonic() - self._used > IDLE_S:
                self._ends[1].close()
                self._ends = None
            if self._ends is None:
                self._ends = await asyncio.open_connection("127.0.0.1", self._port)
            reader, writer = self._ends
            writer.write(self._request(path, record))
            head = await reader.readuntil(b"\r\n\r\n")
            lines = head.decode("latin-1").split("\r\n")
            fields = {name.lower(): value for name, _, value in (line.partition(": ") for line in lines[1:]) if name}
            if "set-cookie" in fields:
                self._cookies.append(fields["set-cookie"].partition(";")[0])
            body = await reader.readexactly(int(fields["content-length"]))
            self._used = time.monotonic()
            return int(lines[0].split()[1]), body

    def _request(self, path: str, record: Any) -> bytes:
        host = f"127.0.0.1:{self._port}"
        lines = [f"{'GET' if record is None else 'POST'} {path} HTTP/1.1", f"host: {host}"]
        if self._cookies:
            lines.append(f"cookie: {self._cookies[0]}")
        body = b""
        if record is not None:
            body = json.dumps(record).encode()
            lines += [f"origin: http://{host}", "content-type: application/json", f"content-length: {len(body)}"]
        return "\r\n".join([*lines, "", ""]).encode() + body


@dataclass
class Page:
    """A listener's page."""

    port: int
    listener: str
    all_ready: asyncio.Barrier
    rng: random.Random
    told: dict[str, Any] | None = None
    view: dict[str, Any] = field(default_factory=dict)
    asking: str = "who"

    def __post_init__(self) -> None:
        cookies: list[str] = []
        self._acts, self._polls = Connection(self.port, cookies), Connection(self.port, cookies)

    async def session(self, code: str, trials: int, how: How) -> list[Acknowledged]:
        """So many trials from the door on; what was acknowledged."""
        await self._do("/join", {"code": code})
        await self._do("/chair/sit", {"plan": PLAN, "listener": self.listener, "output": OUTPUT})
        await self._do("/chair/press", {"trial": "", "do": "begin"})
        polling = self._polling = asyncio.create_task(self._poll())
        found = []
        try:
            sound = ""
            for _ in range(trials):
                sound = await self._hear(sound)
                if how == "burst":
                    await self.all_ready.wait()
                else:
                    await asyncio.sleep(self.rng.expovariate(1 / THINKS_S))
                found.append(await self._answer())
        except (OSError, asyncio.IncompleteReadError, asyncio.BrokenBarrierError):  # the server was killed
            await self.all_ready.abort()
        finally:
            polling.cancel()
        return found

    async def _poll(self) -> None:
        await asyncio.sleep(self.rng.random() * POLL_S)
        while True:
            if self.told is not None:
                await self._polls.ask("/chair/sound/told", self.told)
            at = json.loads((await self._polls.ask("/chair/now"))[1])
            self.asking, self.view = at["asking"], at["view"] or {}
            await asyncio.sleep(POLL_S)

    async def _hear(self, before: str) -> str:
        """Fetch the sounds of the next trial, and tell that X was heard; by what it is known."""
        end = time.monotonic() + PATIENCE_S
        while self.asking != "hear" or self.view["sound"] == before:
            if self._polling.done():
                raise ConnectionError
            if time.monotonic() > end:
                raise SystemExit(f"no trial came to {self.listener}: {self.asking} {self.view}")
            await asyncio.sleep(0.05)
        trial = await self._do("/chair/sounds")
        readings = []
        for name in trial["names"]:
            status, body = await self._acts.ask(f"/chair/sounds/{name}")
            assert status == 200, body
            same = {one: trial[one] for one in ("rate_hz", "frames", "channels")}
            readings.append(same | {"crc32": zlib.crc32(body[HEADER_BYTES:]), "k_power": [], "slope_power": []})
        await self._do("/chair/sound/read", {"trial": trial["number"], "readings": readings})
        await self._do("/chair/press", {"trial": self.view["trial_id"], "do": "hear", "label": "X"})
        told = {"trial": trial["number"], "stimulus": 2, "frame": 32, "playing": True, "told_before": 0}
        await self._do("/chair/sound/told", told | {"auditions": [[2, 0, 32]]})
        self.told = told | {"told_before": 1}
        return str(trial["names"][0])

    async def _answer(self) -> Acknowledged:
        """Answer, and ask again until it is kept; now and then a page says it once more, as after a lost reply."""
        choice, sureness = self.rng.choice("AB"), self.rng.randint(1, 4)
        trial = self.view["trial_id"]
        given = {"trial": trial, "nonce": f"{self.rng.getrandbits(64):x}", "sureness": sureness, "choice": choice}
        self.told, begun = None, time.perf_counter()
        tries = await self._until_kept(given)
        waited_s = time.perf_counter() - begun
        if self.rng.random() < SAID_AGAIN:
            await self._until_kept(given)
        return Acknowledged(self.listener, trial, choice, sureness, waited_s, tries)

    async def _until_kept(self, given: dict[str, Any]) -> int:
        """Say an answer until it is kept; how often it was said."""
        tries = 1
        while (said := await self._acts.ask("/chair/answer", given))[0] == 503:
            tries += 1
            await asyncio.sleep(RETRY_S)
        if said[0] != 200 or json.loads(said[1])["said"]["result"] != "kept":
            raise SystemExit(f"an answer of {self.listener} was not kept: {said[0]} {said[1].decode()}")
        return tries

    async def _do(self, path: str, record: Any = None) -> Any:
        status, body = await self._acts.ask(path, record)
        if status != 200:
            raise SystemExit(f"{path} of {self.listener}: {status} {body.decode()}")
        return json.loads(body)


def names(listeners: int) -> tuple[str, ...]:
    """What the listeners are called."""
    return tuple(f"listener {number:03d}" for number in range(listeners))


async def _panel(port: int, code: str, listeners: int, trials: int, how: How) -> list[Acknowledged]:
    all_ready = asyncio.Barrier(listeners)
    pages = [Page(port, name, all_ready, random.Random(name)) for name in names(listeners)]
    done = await asyncio.gather(*(page.session(code, trials, how) for page in pages))
    return [one for own in done for one in own]


def main(arguments: Sequence[str]) -> None:
    """A panel's answers, as JSON on standard output."""
    port, code, listeners, trials, how = arguments
    gc.disable()
    assert how in ("burst", "arriving")
    found = asyncio.run(_panel(int(port), code, int(listeners), int(trials), "burst" if how == "burst" else "arriving"))
    with suppress(BrokenPipeError):
        json.dump([asdict(one) for one in found], sys.stdout)


if __name__ == "__main__":
    main(sys.argv[1:])
