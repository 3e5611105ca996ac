"""Everything that a page gets in 200 trials that it plays by itself, but what the sounds are: nothing tells X.

By content X is the same as A or B, with dither of its own: whoever subtracts one sound from another knows. What is
tried here is the rest: documents, sizes, headers, names, files that are alike, and how long each response took.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Sequence
from dataclasses import asdict
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np

from audio.browser_sound import BrowserSound
from sessions.chair.sitting_down import House
from sessions.listening.browser_playback import BrowserPlayback
from sessions.pages.app import create_app
from sessions.pages.joining import Guests
from sessions.pages.room import Room
from tests import stopwatch
from tests.sessions.pages.conftest import TRIALS
from tests.sessions.pages.test_nothing_told import HOST, Line, _come, _key, unsafe
from tests.stopwatch import Clock, Measured

OUTPUT = {"rate_hz": 48000, "channels": 2}
VARIES = re.compile(rb'"(trial_id|trial|answered|passage|number)": ?("[^"]*"|\d+)|[0-9a-f]{32}')  # and names of files


class WorkingBrowser(BrowserPlayback):
    """One that takes its time for what it is given."""

    def __init__(self, clock: Clock) -> None:
        super().__init__(secret=b"the same in every run")
        self._clock = clock

    def load(self, stimuli: Sequence[np.ndarray], rate_hz: int, places: Sequence[int] = ()) -> None:
        self._clock.work(sum(sound.nbytes for sound in stimuli) / 1e5)
        super().load(stimuli, rate_hz, places)


class OneDither(WorkingBrowser):
    """One that gives equal sounds equal dither."""

    def _drawn(self, what: str, label: int) -> bytes:
        return super()._drawn(what, label if what == "name" else 0)


def measured(folder: Path, browser_of: type[WorkingBrowser], trials: int) -> Measured:
    clock = Clock(7)
    house = House(
        folder,
        open_player=lambda plan, device, ask: browser_of(clock),
        monotonic=clock.monotonic,
        sleep=clock.sleep,
        own_sound=True,
    )
    room = Room(house, Guests(), open_chair=unsafe)
    try:
        return asyncio.run(_played(Line(create_app(room, [HOST], f"http://{HOST}"), clock), room, trials))
    finally:
        room.close()


async def _played(line: Line, room: Room, trials: int) -> Measured:
    found = Measured()
    await line.ask("/join", {"code": room.guests.code})
    await line.ask("/chair/sit", {"plan": "evening", "listener": "Ada", "output": OUTPUT})
    await line.ask("/chair/press", {"trial": "", "do": "begin"})
    for _ in range(trials):
        at = await _come(line)
        key, trial = await _key(room), at["view"]["trial_id"]
        line.heard.clear()
        sounds = await line.ask("/chair/sounds")
        number = sounds["number"]
        bodies = [await line.fetch(f"/chair/sounds/{name}") for name in sounds["names"]]
        given = [BrowserSound(48000, sounds["frames"], sounds["channels"], body) for body in bodies]
        readings = [asdict(one.reading()) for one in given]
        await line.ask("/chair/sound/read", {"trial": number, "readings": readings})
        heard = {"trial": number, "stimulus": 2, "frame": 9, "playing": True, "auditions": [[2, 0, 9]]}
        await line.ask("/chair/sound/told", heard)
        await line.ask("/chair/answer", {"trial": trial, "nonce": trial, "sureness": 2, "choice": "A"})
        found.add(key, _values(line, sounds["names"], bodies))
    return found


def _values(line: Line, names: list[str], bodies: list[bytes]) -> dict[str, Any]:
    values: dict[str, Any] = {
        "files that are alike": tuple(one == other for one in bodies for other in bodies),
        "order of names": tuple(sorted(range(len(names)), key=names.__getitem__)),
        "order of hashes": tuple(sorted(range(len(names)), key=lambda at: sha256(bodies[at]).digest())),
    }
    values |= {f"first digits of name {at}": int(name[:8], 16) for at, name in enumerate(names)}
    files = range(1, 1 + len(bodies))
    for number, one in enumerate(line.heard):
        values |= {
            f"{number} status": one.status,
            f"{number} size": len(VARIES.sub(b"", one.body)),
            f"{number} parts": len(one.parts),
            f"{number} headers": one.headers,
            f"{number} seconds": round(one.seconds, 9),
            f"{number} body": one.body[:44] if number in files else VARIES.sub(b"", one.body),
        }
    return values


def test_nothing_but_the_sounds_themselves_tells_x(evening: Path) -> None:
    found = measured(evening, WorkingBrowser, TRIALS)
    assert len(found.keys) == TRIALS
    assert stopwatch.telling({"a trial": found}) == []


def test_files_that_are_alike_would_be_found(evening: Path) -> None:
    said = stopwatch.telling({"a trial": measured(evening, OneDither, 60)})
    assert any("files that are alike tells" in one for one in said), said
