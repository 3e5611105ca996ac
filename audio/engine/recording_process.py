"""Playing a signal and recording what comes of it, in a process of its own: one order, one answer, then it ends.

Before the signal there is silence (the first blocks of a stream can be lost), after it too.
"""

from __future__ import annotations

import contextlib
import gc
import os
import sys
import threading
import time
from collections.abc import Sequence
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from ..errors import DeviceError
from . import portaudio
from .operating_system import leave_with, take_precedence
from .orders import Record, Recorded, Refused, StreamFaults, line_of, message_of, read_floats
from .playback_process import SWITCH_INTERVAL_S

STALL_S = 3.0


class BothWays:
    """The callback's state: what is played, what was heard, how far it is."""

    def __init__(
        self, signal: NDArray[np.float32], channels: Sequence[int], lead: int, inputs: int, total: int
    ) -> None:
        self.signal, self.channels, self.lead = signal, channels, lead
        self.heard = np.zeros((total, inputs), dtype=np.float32)
        self.place = 0
        self.underruns = self.overruns = self.callback_errors = 0

    @property
    def done(self) -> bool:
        """Whether everything was played and heard."""
        return self.place >= self.heard.shape[0]

    @property
    def faults(self) -> StreamFaults:
        """What stumbled so far."""
        return StreamFaults(self.underruns, self.overruns, self.callback_errors)

    def work(self, source: Any, out: Any, frames: int, moment: Any, status: Any) -> None:
        """One block both ways, whatever happens."""
        try:
            out.fill(0)
            length = min(frames, self.heard.shape[0] - self.place)
            if length <= 0:
                return
            if self.place >= self.lead // 2:  # what stumbled while the stream was starting disturbs nobody
                self.underruns += bool(status.output_underflow or status.input_underflow)
                self.overruns += bool(status.output_overflow or status.input_overflow)
            self.heard[self.place : self.place + length] = source[:length, : self.heard.shape[1]]
            first = max(self.place - self.lead, 0)
            last = min(self.place + length - self.lead, self.signal.shape[0])
            if last > first:
                begin = first + self.lead - self.place
                for column, channel in enumerate(self.channels):
                    out[begin : begin + last - first, channel] = self.signal[first:last, column]
            self.place += length
        except BaseException:
            self.callback_errors += 1
            out.fill(0)


def main() -> None:
    """Take one order, play and record, answer."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # sound libraries may print; the answer keeps its own way out
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    take_precedence()
    threading.Thread(target=leave_with, args=(os.getppid(),), daemon=True).start()
    source = sys.stdin.buffer
    try:
        order = message_of(source.readline())
        assert isinstance(order, Record)
        about, heard = _recorded(order, source)
        answers.write(line_of(about) + heard.tobytes())
    except DeviceError as error:
        answers.write(line_of(Refused(str(error))))
    except (EOFError, ValueError, BrokenPipeError):
        pass
    with contextlib.suppress(BrokenPipeError):
        answers.flush()
    os._exit(0)  # a sound server that died can hang an orderly end


def _recorded(order: Record, source: BinaryIO) -> tuple[Recorded, NDArray[np.float32]]:
    signal = read_floats(source, (order.frames, len(order.channels)))
    total = order.lead + order.frames + order.tail
    states: list[BothWays] = []

    def work(heard: Any, out: Any, frames: int, moment: Any, status: Any) -> None:
        if not states:
            states.append(BothWays(signal, order.channels, order.lead, heard.shape[1], total))
        states[0].work(heard, out, frames, moment, status)

    gc.collect()
    gc.freeze()
    gc.disable()
    needed = (1 + max(order.channels), 1 + max(order.inputs))
    stream, opened = portaudio.open_both_ways(
        (order.output, order.source), order.rate_hz, needed, order.latency_s, order.block, work
    )
    place, since = -1, time.monotonic()
    while not (states and states[0].done):
        now = states[0].place if states else 0
        if now != place:
            place, since = now, time.monotonic()
        if time.monotonic() - since > STALL_S:
            raise DeviceError(f"{opened.output} stands still; is the device still connected? Try again")
        time.sleep(0.01)
    with contextlib.suppress(Exception):
        stream.abort()
    heard = np.ascontiguousarray(states[0].heard[order.lead :])
    return Recorded(opened.output, opened.source, opened.latency_s, heard.shape, states[0].faults), heard


if __name__ == "__main__":
    main()
