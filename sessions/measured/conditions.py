"""How a curve was measured, and from which direction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

from audio.curves.gate import Window

from ..casebook import documents
from .member import ALONE, Member
from .taken import Taken

Plane = Literal["horizontal", "vertical"]
UNSTATED_GATE_MS = 5.0


class Direction(NamedTuple):
    """Where the microphone stood: degrees in one plane, positive to the right and up, -180 … 180.

    Right is the loudspeaker's own right, as it faces. Whole degrees are whole numbers.
    """

    plane: Plane
    angle: float

    def __str__(self) -> str:
        return f"{self.plane} {self.angle:g}°"


ON_AXIS = Direction("horizontal", 0)
STRAIGHT_UP = Direction("vertical", 0)  # the same place: where the vertical circle begins


def direction(plane: Plane, angle: float) -> Direction:
    """The direction at an angle; a whole one is kept as a whole number."""
    return Direction(plane, int(angle) if angle == int(angle) else angle)


def where_in_words(toward: Direction) -> str:
    """Where the microphone stood, as titles and sentences say it."""
    return "on axis" if toward in (ON_AXIS, STRAIGHT_UP) else str(toward)


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
    member
        Which one of several curves it is; None where it stands alone.
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
    member: Member | None = None

    @property
    def one_of(self) -> Member:
        """Which one of several curves it is, also where it stands alone."""
        return self.member or ALONE

    def to_document(self) -> dict[str, Any]:
        """All of it by name; that it is one of several stands only where it was said."""
        plain: dict[str, Any] = documents.plain(self)
        return {name: value for name, value in plain.items() if name != "member" or value is not None}

    def in_words(self) -> str:
        """What was said of how it was measured, in few words; empty where nothing was."""
        parts = [
            self.one_of.words,
            f"{self.distance_m:g} m" if self.distance_m else "",
            f"{self.drive_volts:g} V" if self.drive_volts else "",
            "not gated" if self.ungated else f"gate {self.gate_ms:.1f} ms" if self.gate_ms else "",
            f"smoothed to 1/{self.smoothing:g} octave" if self.smoothing else "",
            "dB SPL" if self.spl else "",
            self.room,
            f"axis: {self.axis}" if self.axis else "",
            f"by {self.by}" if self.by else "",
        ]
        return ", ".join(part for part in parts if part)

    @property
    def ungated(self) -> bool:
        """Whether it is a harmonic that was taken without its sweep's gate, as they were formerly."""
        return bool(self.harmonic) and self.taken is not None and not self.taken.harmonics_gated

    @property
    def gate_s(self) -> float:
        """The length of the gate, in seconds; our choice where nobody said."""
        return (self.gate_ms or UNSTATED_GATE_MS) / 1000

    @property
    def gate_window(self) -> Window:
        """The window of the gate; our choice where nobody said."""
        return self.window or "half-tukey"
