"""A take: a signal played on some channels of a device while inputs are recorded. The asking side."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import DeviceError
from .routes import Route

LEAD_S = 0.7  # silence before the signal: the first blocks of a stream can be lost
TAIL_S = 0.7  # and after it: the sound's way through buffers, air and room
LATENCY_S = 0.15
TRIES = 4  # a take that stumbled is taken again


@dataclass(frozen=True)
class Taken:
    """What was heard from the signal's first frame on, not corrected for the way there and back.

    `samples` has shape (frames, inputs of the device), `latency_s` is what the device states for both ways, `faults`
    counts what stumbled.
    """

    samples: NDArray[np.float32]
    rate_hz: int
    latency_s: float
    output: str
    source: str
    faults: dict[str, int]

    @property
    def clean(self) -> bool:
        """Whether nothing stumbled."""
        return not any(self.faults.values())


def take(
    signal: NDArray[np.float32],
    route: Route,
    source: Route,
    rate_hz: int,
    *,
    latency_s: float = LATENCY_S,
    block: int = 0,
    tail_s: float = TAIL_S,
) -> Taken:
    """Play a signal, shape (frames, channels of the route), and record the inputs meanwhile.

    Raises
    ------
    DeviceError
        If a device is absent, unsuitable, stands still, or the process that plays ends.
    """
    if signal.ndim != 2 or signal.shape[1] != len(route.channels):
        raise ValueError(f"the signal has shape {signal.shape}, the route {len(route.channels)} channels")
    order = {
        "output": route.device,
        "input": source.device,
        "channels": list(route.channels),
        "inputs": list(source.channels),
        "frames": signal.shape[0],
        "rate_hz": rate_hz,
        "lead": round(LEAD_S * rate_hz),
        "tail": round(tail_s * rate_hz),
        "latency_s": latency_s,
        "block": block,
    }
    child = subprocess.Popen(
        [sys.executable, "-m", "audio.engine.recording_process"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    try:
        payload = np.ascontiguousarray(signal, dtype=np.float32).tobytes()
        answer, _ = child.communicate(json.dumps(order).encode() + b"\n" + payload)
    finally:
        child.kill()  # whatever ends this side ends the sound
        child.wait()
    head, _, body = answer.partition(b"\n")
    try:
        about = json.loads(head)
    except ValueError as error:
        raise DeviceError("the process that plays and records ended; is the sound system running? Try again") from error
    if "error" in about:
        raise DeviceError(about["error"])
    samples = np.frombuffer(body, dtype=np.float32).reshape(about["shape"])
    return Taken(samples, rate_hz, about["latency_s"], about["output"], about["input"], about["faults"])


def undisturbed(
    signal: NDArray[np.float32], route: Route, source: Route, rate_hz: int, *, latency_s: float = LATENCY_S
) -> Taken:
    """A take in which nothing stumbled, tried `TRIES` times with more patience each time.

    Raises
    ------
    DeviceError
        If all of them stumbled.
    """
    stumbled: Sequence[str] = ()
    for attempt in range(TRIES):
        taken = take(signal, route, source, rate_hz, latency_s=latency_s * (attempt + 1))
        if taken.clean:
            return taken
        stumbled = [f"{count} {kind.replace('_', ' ')}" for kind, count in taken.faults.items() if count]
    raise DeviceError(
        f"every one of {TRIES} takes stumbled (the last: {' and '.join(stumbled)}); close other programs, or ask the "
        "sound system for larger blocks"
    )
