"""The engine's own process: a stream whose callback renders, and a loop that obeys until the application is gone.

Orders come as JSON lines on standard input, each answered by one line on standard output; the stimuli follow their
order as raw float32. When the input ends, however the application ended, the process stops.
"""

from __future__ import annotations

import contextlib
import gc
import json
import mmap
import os
import sys
import threading
import time
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from ..errors import DeviceError
from . import device
from . import fields as at
from .fields import Fields
from .renderer import Bank, Renderer

PRIORITY = -15
SWITCH_INTERVAL_S = 0.0005  # how long Python may keep the callback waiting for the main thread


class Engine:
    """A stream and its renderer, obeying orders."""

    def __init__(self, fields: Fields) -> None:
        self.fields = fields
        self.renderer = Renderer(fields)
        self._stream: Any = None
        self._ready = False

    def fill(self, out: Any, frames: int, moment: Any, status: Any) -> None:
        """The callback: one block of sound, whatever happens."""
        begun = time.perf_counter_ns()
        fields = self.fields
        fields[at.STAMP_FRAMES] = -1  # so that a reader can tell that the pair is being written
        fields[at.STAMP_NS] = time.monotonic_ns()
        fields[at.STAMP_FRAMES] = fields[at.FRAMES]
        try:
            if self._ready:
                fields[at.UNDERRUNS] += bool(status.output_underflow)
                fields[at.OVERRUNS] += bool(status.output_overflow)
            self.renderer.render(out)
        except BaseException:
            fields[at.CALLBACK_ERRORS] += 1
            self.renderer.silence(out)
        took = time.perf_counter_ns() - begun
        fields[at.BUSY_NS] += took
        if took > fields[at.WORST_NS]:
            fields[at.WORST_NS] = took

    def open(self, order: dict[str, Any]) -> dict[str, Any]:
        """Open the stream and let it run silent for the pre-roll."""
        self.close()
        begun = int(self.fields[at.FRAMES])
        self._stream, about = device.open_stream(
            order["device"], order["rate_hz"], order["channels"], order["latency_s"], self.fill
        )
        wanted = begun + round(order["preroll_s"] * order["rate_hz"])
        give_up = time.monotonic() + order["preroll_s"] + 5
        while self.fields[at.FRAMES] < wanted:
            if time.monotonic() > give_up:
                raise DeviceError(f"{about['name']} was opened but asks for no sound; restart the sound system")
            time.sleep(0.01)
        self._ready = True  # what stumbled while the stream was starting disturbs nobody
        self.fields[at.WORST_NS] = 0
        return about

    def load(self, order: dict[str, Any], source: BinaryIO) -> dict[str, Any]:
        """Take the stimuli of a trial."""
        stimuli = read_floats(source, tuple(order["shape"]))
        self.renderer.load(Bank(stimuli, order["pause"], order["fade"], order["routes"]))
        gc.collect()
        gc.freeze()
        return {}

    def close(self) -> None:
        """Stop the stream."""
        self._ready = False
        if self._stream is not None:
            self._stream.abort(ignore_errors=True)
            self._stream.close(ignore_errors=True)
            self._stream = None


def main() -> None:
    """Obey orders until the input ends."""
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # sound libraries may print; answers keep their own way out
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    with contextlib.suppress(OSError):  # before other work, where the system lets us
        os.setpriority(os.PRIO_PROCESS, 0, PRIORITY)
    gc.disable()
    fields = np.frombuffer(mmap.mmap(int(sys.argv[1]), at.BYTES), dtype=np.int64)
    engine = Engine(fields)
    source = sys.stdin.buffer
    threading.Thread(target=leave_with, args=(os.getppid(),), daemon=True).start()
    try:
        for line in iter(source.readline, b""):
            answers.write(json.dumps(_obey(engine, json.loads(line), source)) + "\n")
            answers.flush()
    except (EOFError, BrokenPipeError):
        pass
    os._exit(0)  # a sound server that died can hang an orderly end


def _obey(engine: Engine, order: dict[str, Any], source: BinaryIO) -> dict[str, Any]:
    try:
        if order["do"] == "open":
            return engine.open(order)
        if order["do"] == "load":
            return engine.load(order, source)
        engine.close()
    except DeviceError as error:
        return {"error": str(error)}
    return {}


def read_floats(source: BinaryIO, shape: tuple[int, ...]) -> NDArray[np.float32]:
    """An array that follows its order on the wire.

    Raises
    ------
    EOFError
        If the other side left in the middle of it.
    """
    floats = np.empty(shape, dtype=np.float32)
    view = floats.data.cast("B")
    taken = 0
    while taken < len(view):
        count = source.readinto(view[taken:])  # type: ignore[attr-defined]
        if not count:
            raise EOFError
        taken += count
    return floats


def leave_with(parent: int) -> None:
    """End when the application is gone, even where an order never returns."""
    while os.getppid() == parent:
        time.sleep(0.2)
    os._exit(0)


if __name__ == "__main__":
    main()
