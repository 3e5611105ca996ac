"""The engine's own process: a stream whose callback renders, and a loop that obeys until the application is gone.

Orders come on standard input, each answered on standard output. When the input ends, however
the application ended, the process stops.
"""

from __future__ import annotations

import gc
import mmap
import os
import sys
import threading
import time
from typing import Any, BinaryIO

import numpy as np

from ..errors import DeviceError
from . import fields as at
from . import portaudio
from .fields import Fields
from .operating_system import leave_with, take_precedence
from .orders import Answer, Load, Loaded, Open, Opened, Order, Refused, line_of, message_of, read_floats
from .portaudio import OpenStream, Stream
from .renderer import Bank, Renderer

SWITCH_INTERVAL_S = 0.0005  # how long Python may keep the callback waiting for the main thread


class Engine:
    """A stream and its renderer, obeying orders; `open_stream` is what opens the stream."""

    def __init__(self, fields: Fields, open_stream: OpenStream = portaudio.open_stream) -> None:
        self.fields = fields
        self.renderer = Renderer(fields)
        self._open_stream = open_stream
        self._stream: Stream | None = None
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

    def obey(self, order: Order | Answer, source: BinaryIO) -> Answer:
        """Obey an order, whose samples follow in `source`; what came of it, or why it is refused."""
        try:
            if isinstance(order, Open):
                return self.open(order)
            assert isinstance(order, Load)
            return self.load(order, source)
        except DeviceError as error:
            return Refused(str(error))

    def open(self, order: Open) -> Opened:
        """Open the stream and let it run silent for the pre-roll.

        Raises
        ------
        DeviceError
            If the device is absent, unsuitable, or asks for no sound.
        """
        self.close()
        begun = int(self.fields[at.FRAMES])
        self._stream, opened = self._open_stream(
            order.device, order.rate_hz, order.channels, order.latency_s, self.fill
        )
        wanted = begun + round(order.preroll_s * order.rate_hz)
        give_up = time.monotonic() + order.preroll_s + 5
        while self.fields[at.FRAMES] < wanted:
            if time.monotonic() > give_up:
                raise DeviceError(f"{opened.device} was opened but asks for no sound; restart the sound system")
            time.sleep(0.01)
        self._ready = True  # what stumbled while the stream was starting disturbs nobody
        self.fields[at.WORST_NS] = 0
        return opened

    def load(self, order: Load, source: BinaryIO) -> Loaded:
        """Take the stimuli of a trial."""
        stimuli = read_floats(source, order.shape)
        routes = [order.routes[place] for place in order.places] if order.routes else None
        self.renderer.load(Bank(stimuli, order.pause, order.fade, routes))
        return Loaded()

    def close(self) -> None:
        """Stop the stream."""
        self._ready = False
        if self._stream is not None:
            self._stream.abort(ignore_errors=True)
            self._stream.close(ignore_errors=True)
            self._stream = None


def main(open_stream: OpenStream = portaudio.open_stream) -> None:
    """Obey orders until the input ends; `open_stream` is what opens the stream."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # sound libraries may print; answers keep their own way out
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    take_precedence()
    gc.disable()
    with open(sys.argv[1], "r+b") as file:
        fields = np.frombuffer(mmap.mmap(file.fileno(), at.BYTES), dtype=np.int64)
    engine = Engine(fields, open_stream)
    source = sys.stdin.buffer
    threading.Thread(target=leave_with, args=(os.getppid(),), daemon=True).start()
    try:
        for line in iter(source.readline, b""):
            answer = engine.obey(message_of(line), source)
            gc.collect()
            gc.freeze()
            answers.write(line_of(answer))
            answers.flush()
    except (EOFError, ValueError, BrokenPipeError):
        pass
    os._exit(0)  # a sound server that died can hang an orderly end


if __name__ == "__main__":
    main()
