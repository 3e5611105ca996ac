"""Where loudspeaker and microphone stand, each at its height: the way between them, and the first reflection. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, log10, radians, sin, sqrt

from ..errors import MeasureError
from .gate import reflection_free_s


@dataclass(frozen=True)
class Placement:
    """Metres: along the floor, and the heights of source and microphone above it."""

    floor_m: float
    source_height_m: float
    microphone_height_m: float

    @property
    def way_m(self) -> float:
        """The straight way from source to microphone."""
        return hypot(self.floor_m, self.source_height_m - self.microphone_height_m)

    @property
    def gate_s(self) -> float:
        """How long after the direct sound the floor's reflection comes."""
        return reflection_free_s(self.floor_m, self.source_height_m, self.microphone_height_m)


def straight(way_m: float, source_height_m: float, microphone_height_m: float) -> Placement:
    """Source and microphone each at its own height, so far from each other on the straight way between them.

    Raises
    ------
    MeasureError
        If the heights alone lie further apart.
    """
    apart = abs(source_height_m - microphone_height_m)
    if apart >= way_m:
        raise MeasureError(
            f"heights of {source_height_m:g} and {microphone_height_m:g} m lie {apart:.2f} m apart, no less than the "
            f"{way_m:g} m from source to microphone; give the straight way between them as the distance"
        )
    return Placement(sqrt(way_m**2 - apart**2), source_height_m, microphone_height_m)


def raised(distance_m: float, source_height_m: float, above_m: float) -> Placement:
    """A microphone straight above (or below) its place on axis, which is at the source's height.

    Raises
    ------
    MeasureError
        If it would be in the floor.
    """
    return _above_floor(Placement(distance_m, source_height_m, source_height_m + above_m), f"{above_m:+.2f} m")


def circled(distance_m: float, source_height_m: float, angle_deg: float) -> Placement:
    """A microphone on a vertical circle around the source, so many degrees above the axis.

    Raises
    ------
    MeasureError
        If it would be in the floor.
    """
    angle = radians(angle_deg)
    floor = max(abs(distance_m * cos(angle)), 1e-3)
    place = Placement(floor, source_height_m, source_height_m + distance_m * sin(angle))
    return _above_floor(place, f"{angle_deg:g}°")


def farther_db(way_m: float, distance_m: float) -> float:
    """What a way longer than the stated distance takes from the level (free field: 6 dB for each doubling).

    >>> round(farther_db(2.0, 1.0), 2)
    6.02
    """
    return 20 * log10(way_m / distance_m)


def _above_floor(place: Placement, where: str) -> Placement:
    if place.microphone_height_m <= 0:
        raise MeasureError(
            f"at {where} the microphone would be {-place.microphone_height_m:.2f} m below the floor; raise the "
            "loudspeaker, come nearer, or lay it on its side and leave --height out"
        )
    return place
