"""What the application and its playing and recording processes say to each other: one JSON line each, then samples."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Open:
    """Open a device (None: the system's) and let it run silent for the pre-roll."""

    device: str | None
    rate_hz: int
    channels: int
    latency_s: float
    preroll_s: float


@dataclass(frozen=True)
class Opened:
    """A device that is open: its full name, the channels of its stream, and its latency in seconds as it states it."""

    device: str
    channels: int
    latency_s: float


@dataclass(frozen=True)
class Load:
    """Take the stimuli that follow, shape (stimuli, frames, channels); pause and fade are in frames.

    `routes` are those of all setups, or None where everything plays on the first channels; `places` names for each
    stimulus its setup's among them. So the line is equally long whatever plays where.
    """

    shape: Sequence[int]
    pause: int
    fade: int
    routes: Sequence[Sequence[int]] | None
    places: Sequence[int]


@dataclass(frozen=True)
class Loaded:
    """The stimuli are there."""


@dataclass(frozen=True)
class Record:
    """Play the signal that follows, shape (frames, channels), between silences of lead and tail frames, and record."""

    output: str | None
    source: str | None
    channels: Sequence[int]
    inputs: Sequence[int]
    frames: int
    rate_hz: int
    lead: int
    tail: int
    latency_s: float
    block: int


@dataclass(frozen=True)
class OpenedBothWays:
    """Two devices that run together: their full names, and the latency of both ways in seconds as they state it."""

    output: str
    source: str
    latency_s: float


@dataclass(frozen=True)
class StreamFaults:
    """What stumbled while something was played and recorded."""

    underruns: int = 0
    overruns: int = 0
    callback_errors: int = 0

    @property
    def words(self) -> str:
        """What stumbled and how often, as words; empty for nothing."""
        counts = asdict(self)
        return " and ".join(f"{count} {kind.replace('_', ' ')}" for kind, count in counts.items() if count)


@dataclass(frozen=True)
class Recorded:
    """What was recorded follows, shape (frames, inputs)."""

    output: str
    source: str
    latency_s: float
    shape: Sequence[int]
    faults: StreamFaults


@dataclass(frozen=True)
class Refused:
    """An order that could not be obeyed, in words for the person at the keyboard."""

    why: str


Order = Open | Load | Record
Answer = Opened | Loaded | Recorded | Refused
_KINDS: dict[str, type[Order | Answer]] = {
    kind.__name__: kind for kind in (Open, Opened, Load, Loaded, Record, Recorded, Refused)
}


def line_of(message: Order | Answer) -> bytes:
    """The message as it goes over a pipe."""
    return json.dumps({"kind": type(message).__name__} | asdict(message)).encode() + b"\n"


def message_of(line: bytes) -> Order | Answer:
    """The message of a line.

    Raises
    ------
    ValueError
        If the line is no message: the other side ended in the middle of it.
    """
    fields = json.loads(line)
    kind = _KINDS[fields.pop("kind")]
    if kind is Recorded:
        fields["faults"] = StreamFaults(**fields["faults"])
    return kind(**fields)


def read_floats(source: BinaryIO, shape: Sequence[int]) -> NDArray[np.float32]:
    """The samples that follow a message on the wire.

    Raises
    ------
    EOFError
        If the other side left in the middle of them.
    """
    floats = np.empty(tuple(shape), dtype=np.float32)
    view = floats.data.cast("B") if floats.size else memoryview(b"")
    taken = 0
    while taken < len(view):
        count = source.readinto(view[taken:])  # type: ignore[attr-defined]
        if not count:
            raise EOFError
        taken += count
    return floats
