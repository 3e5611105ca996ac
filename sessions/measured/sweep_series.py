"""A guided series of sweeps: which directions are still to be measured, and what to move before each."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from math import atan2, degrees

from ..errors import CatalogueError
from .conditions import Direction, Plane


@dataclass(frozen=True)
class Step:
    """One direction of a series, and what to move for it, in words."""

    direction: Direction
    move: str


def by_angles(angles: str, plane: Plane) -> list[Step]:
    """The steps of ``FROM:TO:STEP`` in whole degrees.

    Raises
    ------
    CatalogueError
        If it is not written so.
    """
    try:
        start, end, step = (int(part) for part in angles.split(":"))
        wanted = list(range(start, end + (1 if step > 0 else -1), step))
    except ValueError:
        raise CatalogueError(f"--angles takes FROM:TO:STEP in whole degrees, like 0:180:10; got {angles!r}") from None
    what = "Turn the loudspeaker" if plane == "horizontal" else "Bring the microphone"
    return [Step(Direction(plane, angle), f"{what} to {angle}°") for angle in wanted]


def by_heights(heights: str, distance_m: float | None) -> list[Step]:
    """The vertical steps of a microphone at heights above the axis, in metres between commas, at a distance.

    Raises
    ------
    CatalogueError
        If they are no numbers, or the distance is not known.
    """
    if not distance_m:
        raise CatalogueError("--heights needs --distance, from which the angle follows")
    try:
        metres = [float(part) for part in heights.split(",")]
    except ValueError:
        raise CatalogueError(f"--heights takes metres, like -0.18,0,0.18; got {heights!r}") from None
    steps = []
    for height in metres:
        angle = angle_of_height(height, distance_m)
        steps.append(
            Step(Direction("vertical", angle), f"Move the microphone to {height:+.2f} m from the axis ({angle}°)")
        )
    return steps


def still_to_measure(steps: list[Step], measured: Collection[Direction]) -> list[Step]:
    """The steps whose direction is not there yet.

    Raises
    ------
    CatalogueError
        If none is left.
    """
    left = [step for step in steps if step.direction not in measured]
    if not left:
        raise CatalogueError("every direction of this series is measured already; take single ones with --angle")
    return left


def angle_of_height(height_m: float, distance_m: float) -> int:
    """The vertical angle of a microphone so much above the axis at a distance, to the nearest degree.

    >>> angle_of_height(0.176, 1.0), angle_of_height(-0.5, 1.0)
    (10, -27)
    """
    return round(degrees(atan2(height_m, distance_m)))
