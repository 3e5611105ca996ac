"""How a curve was measured, and from which direction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from audio.curves.gate import Window

from .taken import Taken

Plane = Literal["horizontal", "vertical"]
UNSTATED_GATE_MS = 5.0


class Direction(NamedTuple):
    """Where the microphone stood: degrees in one plane, positive to the right and up, -180 … 180."""

    plane: Plane
    angle: int

    def __str__(self) -> str:
        return f"{self.plane} {self.angle}°"


ON_AXIS = Direction("horizontal", 0)


@dataclass(frozen=True)
class Conditions:
    """How a curve was measured; empty or None where nobody said.

    Attributes
    ----------
    distance_m, drive_volts, gate_ms
        Of the measurement.
    window
        Of the gate.
    axis, room, by, when, note
        In words.
    smoothing
        In the data as they were brought in: n of 1/n octave; 0 for none.
    valid_hz
        The band in which it can be relied on.
    spl
        Whether the levels are dB SPL at the stated distance and drive.
    calibration
        What was done about the microphone's own response, in words.
    harmonic
        The order of a distortion curve; 0 for everything else.
    taken
        Of a sweep taken here; None for what was brought in.
    """

    distance_m: float | None = None
    drive_volts: float | None = None
    gate_ms: float | None = None
    window: Window | Literal[""] = ""
    axis: str = ""
    room: str = ""
    by: str = ""
    when: str = ""
    note: str = ""
    smoothing: float = 0.0
    valid_hz: tuple[float, float] = (0.0, 1e6)
    spl: bool = False
    calibration: str = ""
    harmonic: int = 0
    taken: Taken | None = None

    @property
    def gate_s(self) -> float:
        """The length of the gate, in seconds; our choice where nobody said."""
        return (self.gate_ms or UNSTATED_GATE_MS) / 1000

    @property
    def gate_window(self) -> Window:
        """The window of the gate; our choice where nobody said."""
        return self.window or "half-tukey"
