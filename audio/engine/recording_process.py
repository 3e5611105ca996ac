"""Playing a signal and recording what comes of it, in a process of its own: one order, one answer, then it ends.

The order comes as one JSON line on standard input, followed by the signal as raw float32; the answer goes the same way
on standard output. Before the signal there is silence (the first blocks of a stream can be lost), after it too.
"""

from __future__ import annotations

import contextlib
import gc
import json
import os
import sys
import threading
import time
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from ..errors import DeviceError
from . import device
from .process import PRIORITY, SWITCH_INTERVAL_S, leave_with, read_floats

STALL_S = 3.0


class Taking:
    """The callback's state: what is played, what was heard, how far it is."""

    def __init__(self, signal: NDArray[np.float32], channels: list[int], lead: int, inputs: int, total: int) -> None:
        self.signal, self.channels, self.lead = signal, channels, lead
        self.heard = np.zeros((total, inputs), dtype=np.float32)
        self.place = 0
        self.faults = {"underruns": 0, "overruns": 0, "callback_errors": 0}

    @property
    def done(self) -> bool:
        """Whether everything was played and heard."""
        return self.place >= self.heard.shape[0]

    def work(self, source: Any, out: Any, frames: int, moment: Any, status: Any) -> None:
        """One block both ways, whatever happens."""
        try:
            out.fill(0)
            length = min(frames, self.heard.shape[0] - self.place)
            if length <= 0:
                return
            if self.place >= self.lead // 2:  # what stumbled while the stream was starting disturbs nobody
                self.faults["underruns"] += bool(status.output_underflow or status.input_underflow)
                self.faults["overruns"] += bool(status.output_overflow or status.input_overflow)
            self.heard[self.place : self.place + length] = source[:length, : self.heard.shape[1]]
            first = max(self.place - self.lead, 0)
            last = min(self.place + length - self.lead, self.signal.shape[0])
            if last > first:
                begin = first + self.lead - self.place
                for column, channel in enumerate(self.channels):
                    out[begin : begin + last - first, channel] = self.signal[first:last, column]
            self.place += length
        except BaseException:
            self.faults["callback_errors"] += 1
            out.fill(0)


def main() -> None:
    """Take one order, play and record, answer."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # sound libraries may print; the answer keeps its own way out
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    with contextlib.suppress(OSError):
        os.setpriority(os.PRIO_PROCESS, 0, PRIORITY)
    threading.Thread(target=leave_with, args=(os.getppid(),), daemon=True).start()
    source = sys.stdin.buffer
    try:
        about, heard = _taken(json.loads(source.readline()), source)
        answers.write(json.dumps(about).encode() + b"\n" + heard.tobytes())
    except DeviceError as error:
        answers.write(json.dumps({"error": str(error)}).encode() + b"\n")
    except (EOFError, ValueError, BrokenPipeError):
        pass
    with contextlib.suppress(BrokenPipeError):
        answers.flush()
    os._exit(0)  # a sound server that died can hang an orderly end


def _taken(order: dict[str, Any], source: BinaryIO) -> tuple[dict[str, Any], NDArray[np.float32]]:
    signal = read_floats(source, (order["frames"], len(order["channels"])))
    lead, total = order["lead"], order["lead"] + order["frames"] + order["tail"]
    states: list[Taking] = []

    def work(heard: Any, out: Any, frames: int, moment: Any, status: Any) -> None:
        if not states:
            states.append(Taking(signal, order["channels"], lead, heard.shape[1], total))
        states[0].work(heard, out, frames, moment, status)

    gc.collect()
    gc.freeze()
    gc.disable()
    needed = (1 + max(order["channels"]), 1 + max(order["inputs"]))
    stream, about = device.open_both_ways(
        (order["output"], order["input"]), order["rate_hz"], needed, order["latency_s"], order["block"], work
    )
    place, since = -1, time.monotonic()
    while not (states and states[0].done):
        now = states[0].place if states else 0
        if now != place:
            place, since = now, time.monotonic()
        if time.monotonic() - since > STALL_S:
            raise DeviceError(f"{about['output']} stands still; is the device still connected? Try again")
        time.sleep(0.01)
    with contextlib.suppress(Exception):
        stream.abort()
    taking = states[0]
    about |= {"faults": taking.faults, "shape": list(taking.heard[lead:].shape)}
    return about, np.ascontiguousarray(taking.heard[lead:])


if __name__ == "__main__":
    main()
