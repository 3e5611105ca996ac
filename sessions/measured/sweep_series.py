"""A guided series of sweeps: which directions are still to be measured, and what to move before each."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from math import atan2, degrees, hypot

from audio.curves import placement
from audio.curves.placement import Placement
from audio.errors import MeasureError
from audio.typed_numbers import number

from ..errors import CatalogueError
from .conditions import Conditions, Direction, Plane

GATE_SLACK = 1.001
MOST_LEVELS = 20


@dataclass(frozen=True)
class Standing:
    """Where source and microphone stand at a step, metres; heights are None where nobody said.

    `gate_s` is when the floor's reflection comes (None where that is not known), `distance_db` what a way longer than
    the stated distance took from the level.
    """

    source_height_m: float | None = None
    microphone_height_m: float | None = None
    gate_s: float | None = None
    distance_db: float = 0.0


@dataclass(frozen=True)
class Step:
    """One direction of a series, what to move for it, in words, and where things then stand."""

    direction: Direction
    move: str
    standing: Standing = Standing()
    level_dbfs: float | None = None

    @property
    def name(self) -> str:
        """What the step is called: its level where these rise, otherwise its direction."""
        return str(self.direction) if self.level_dbfs is None else f"{self.level_dbfs:g} dBFS"

    def conditions(self, stated: Conditions, gate_ms: float | None) -> tuple[Conditions, list[str]]:
        """The conditions of this step, and what is to be said of them.

        Parameters
        ----------
        gate_ms
            As somebody set it; None: it follows from this step's geometry, as far as that is known.
        """
        free = self.standing.gate_s
        if free is None or gate_ms is None:
            return (stated if free is None else replace(stated, gate_ms=1000 * free)), []
        said = []
        if gate_ms > 1000 * free * GATE_SLACK:
            said.append(f"the floor's reflection comes after {1000 * free:.2f} ms, within the gate of {gate_ms:g} ms")
        return replace(stated, gate_ms=gate_ms), said


def single(
    direction: Direction, distance_m: float | None, source_height_m: float | None, microphone_height_m: float | None
) -> Step:
    """One direction alone, source and microphone each at its own height, the distance straight from one to the other.

    Raises
    ------
    MeasureError
        If the two heights are further apart than that.
    """
    mic_m = microphone_height_m or source_height_m
    if not (distance_m and source_height_m and mic_m):
        return Step(direction, "", Standing(source_height_m, mic_m))
    return Step(direction, "", _standing(placement.straight(distance_m, source_height_m, mic_m), None))


def by_angles(
    angles: str, plane: Plane, distance_m: float | None = None, source_height_m: float | None = None
) -> list[Step]:
    """The steps of ``FROM:TO:STEP`` in whole degrees; vertically the microphone goes round the source.

    Raises
    ------
    CatalogueError
        If it is not written so.
    MeasureError
        If a step would bring the microphone into the floor.
    """
    try:
        start, end, step = (int(part) for part in angles.split(":"))
        wanted = list(range(start, end + (1 if step > 0 else -1), step))
    except ValueError:
        raise CatalogueError(f"--angles takes FROM:TO:STEP in whole degrees, like 0:180:10; got {angles!r}") from None
    steps = []
    for angle in wanted:
        direction = Direction(plane, angle)
        if plane == "horizontal":
            turned = replace(
                single(direction, distance_m, source_height_m, None), move=f"Turn the loudspeaker to {angle}°"
            )
            steps.append(turned)
        elif distance_m and source_height_m:
            place = placement.circled(distance_m, source_height_m, angle)
            where = f", {place.microphone_height_m:.2f} m above the floor"
            steps.append(Step(direction, f"Bring the microphone to {angle}°{where}", _standing(place, distance_m)))
        else:
            steps.append(Step(direction, f"Bring the microphone to {angle}°"))
    return steps


def by_heights(heights: str, distance_m: float | None, source_height_m: float | None = None) -> list[Step]:
    """The vertical steps of a microphone at heights above the axis, in metres between commas, at a distance.

    The microphone goes straight up and down, so its way grows: each step has its own gate (where the source's height is
    known) and what the longer way takes from the level.

    Raises
    ------
    CatalogueError
        If they are no numbers, or the distance is not known.
    MeasureError
        If a step would bring the microphone into the floor.
    """
    if not distance_m:
        raise CatalogueError("--heights needs --distance, from which the angle follows")
    steps = []
    for part in heights.split(","):
        height = number(part)
        if height is None:
            raise CatalogueError(f"--heights takes metres, like -0.18,0,0.18; got {heights!r}")
        angle = angle_of_height(height, distance_m)
        move = f"Move the microphone to {height:+.2f} m from the axis ({angle}°)"
        if source_height_m:
            place = placement.raised(distance_m, source_height_m, height)
            move += f", {place.microphone_height_m:.2f} m above the floor"
            standing = _standing(place, distance_m)
        else:
            standing = Standing(distance_db=placement.farther_db(hypot(distance_m, height), distance_m))
        steps.append(Step(Direction("vertical", angle), move, standing))
    return steps


def by_levels(levels: str, single: Step) -> list[Step]:
    """The steps of ``FROM:TO:STEP`` in dBFS, each louder than the one before, where one stands.

    Raises
    ------
    CatalogueError
        If it is not written so, or the levels do not rise.
    """
    parts = [value for part in levels.split(":") if (value := number(part)) is not None]
    if levels.count(":") != 2 or len(parts) != 3:
        raise CatalogueError(f"--levels takes FROM:TO:STEP in dBFS, like -30:-18:6; got {levels!r}")
    first, last, rise = parts
    if not (rise > 0 and first < last):
        raise CatalogueError(f"--levels rises, like -30:-18:6, so that the quietest comes first; got {levels!r}")
    count = int((last - first) / rise + 1e-9) + 1
    if not 2 <= count <= MOST_LEVELS:
        raise CatalogueError(f"--levels gives 2 to {MOST_LEVELS} levels; {levels!r} gives {count}")
    steps = []
    for place in range(count):
        level = round(first + place * rise, 6)
        louder = f", {rise:g} dB louder than the last: mind ears and drivers" if place else ""
        steps.append(replace(single, move=f"Sweep at {level:g} dBFS{louder}", level_dbfs=level))
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


def _standing(place: Placement, distance_m: float | None) -> Standing:
    """`distance_m` None: the way is the stated distance itself."""
    try:
        gate_s: float | None = place.gate_s
    except MeasureError:
        gate_s = None
    farther = placement.farther_db(place.way_m, distance_m) if distance_m else 0.0
    return Standing(place.source_height_m, place.microphone_height_m, gate_s, farther)
