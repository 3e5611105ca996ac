"""One setup's measurements in numbers: directions, ends, directivity, in-room estimate, impedance. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np

from audio.curves import angles, sensitivity
from audio.curves.angles import Balance
from audio.curves.curve import Curve, mean_level
from audio.curves.impedance import Impedance, read_impedance
from audio.errors import AudioError

from ..casebook import documents
from .conditions import ON_AXIS, Conditions, Direction, where_in_words
from .curve_records import CurveRecord, SetupCurves
from .frequency_response import (
    BAND_HZ,
    LEAST_POINTS,
    SMOOTHING,
    gridded,
    middle_of,
    points,
    response_of,
    shown,
    shown_set,
)
from .one_session import OneSession, one_session

Part = TypeVar("Part")

ENDS_DB = (3, 6, 10)
ENDS_SMOOTHING = 6.0
LEAST_DISTANCE_M = 0.3  # nearer than that the level does not fall as from a point; our choice
COVERED = 1.05  # a band is covered if its ends are, to this factor
SLOPE_HZ = (100.0, 16_000.0)


@dataclass(frozen=True)
class End:
    """Where a response falls `db` below its mean, going down and going up, Hz; None where it was not measured."""

    db: int
    low_hz: float | None
    high_hz: float | None


@dataclass(frozen=True)
class Ends:
    """A response's mean level in the middle, and where it falls away at both ends."""

    mean_db: float
    ends: tuple[End, ...]

    def to_document(self) -> dict[str, Any]:
        """The numbers by name."""
        found: dict[str, Any] = {"mean_db": self.mean_db}
        for end in self.ends:
            found |= {f"low_end_{end.db}db_hz": end.low_hz, f"high_end_{end.db}db_hz": end.high_hz}
        return found


@dataclass(frozen=True, eq=False)
class OnAxis:
    """The newest response on axis, or the single one that is shown alone, whose `direction` may be another.

    `ends` is None where the middle was not measured, `sensitivity_db` (for 2.83 V at 1 m) where the curve is not in dB
    SPL, drive or distance are unknown, or it was read too near; `sensitivity_hz` is the band, where that is but a part
    of the usual one. `curve` is smoothed as asked for.
    """

    direction: Direction
    valid_hz: tuple[float, float]
    conditions: Conditions
    ends: Ends | None
    sensitivity_db: float | None
    curve: Curve
    sensitivity_hz: tuple[float, float] | None = None

    def to_document(self) -> dict[str, Any]:
        """The numbers by name."""
        return {
            "direction": self.direction._asdict(),
            "valid_hz": list(self.valid_hz),
            "conditions": self.conditions.to_document(),
            **(self.ends.to_document() if self.ends else {}),
            "sensitivity_283_v_1_m_db": self.sensitivity_db,
            **({"sensitivity_hz": list(self.sensitivity_hz)} if self.sensitivity_hz else {}),
            "curve": points(self.curve),
        }


@dataclass(frozen=True)
class InRoom:
    """The straight line against log f that fits the in-room estimate best, and how far it departs from it."""

    slope_db_per_octave: float
    bumpiness_db: float
    from_hz: float
    to_hz: float


@dataclass(frozen=True, eq=False)
class Directivity:
    """What a set of angles gives by ANSI/CTA-2034-A: curves by name, and what lacks, with the reason.

    The curves are power averages of what was measured, so nothing is smoothed. `mirrored`: only one side was measured
    horizontally, and stands for the other. `session` says what is not mixed in, empty where all is of one session.
    """

    mirrored: bool
    curves: Mapping[str, Curve]
    lacking: Mapping[str, str]
    in_room: InRoom | None
    balance: Balance | None
    session: str = ""

    def to_document(self) -> dict[str, Any]:
        """The numbers by name."""
        return {
            "mirrored": self.mirrored,
            "lacking": dict(self.lacking),
            "curves": {name: points(curve) for name, curve in self.curves.items()},
            **({"in_room": documents.plain(self.in_room)} if self.in_room else {}),
            **(
                {"consistency_db": self.balance.departure_db, "balance": documents.plain(self.balance)}
                if self.balance
                else {}
            ),
            **({"session": self.session} if self.session else {}),
        }


@dataclass(frozen=True, eq=False)
class CurveSummary:
    """What was measured of one setup, and what it comes to; None where it was not measured.

    `unread` says of each part that was measured and cannot be put into numbers why not; the others stand.
    """

    setup: str
    directions: tuple[Direction, ...]
    on_axis: OnAxis | None
    directivity: Directivity | None
    impedance: Impedance | None
    unread: Mapping[str, str]

    @property
    def _which(self) -> str:
        return "on_axis" if self.on_axis is None or self.on_axis.direction == ON_AXIS else "off_axis"

    def to_document(self) -> dict[str, Any]:
        """The numbers by name; what was not measured is left out. A single curve off the axis is called so."""
        return {
            "setup": self.setup,
            "directions": [direction._asdict() for direction in self.directions],
            **({self._which: self.on_axis.to_document()} if self.on_axis else {}),
            **({"directivity": self.directivity.to_document()} if self.directivity else {}),
            **({"impedance": _plain(self.impedance)} if self.impedance else {}),
            **({"unread": dict(self.unread)} if self.unread else {}),
        }


def summary(measured: SetupCurves, smoothing: float = SMOOTHING) -> CurveSummary:
    """What the newest curves of a setup come to; the curve on axis is smoothed to 1/`smoothing` octave (0: not)."""
    axis, impedance, unread = measured.on_axis, measured.impedance, dict[str, str]()

    def part(name: str, read: Callable[[], Part]) -> Part | None:
        try:
            return read()
        except AudioError as error:
            unread[name] = str(error)
            return None

    return CurveSummary(
        setup=measured.setup.name,
        directions=tuple(sorted(record.direction for record in measured.directions.values())),
        on_axis=part(f"response {where_in_words(axis.direction)}", lambda: _on_axis(axis, smoothing)) if axis else None,
        directivity=part("directivity", lambda: directivity(set_of(measured)))
        if axis and len(measured.directions) > 1
        else None,
        impedance=part("impedance", lambda: impedance_in_numbers(impedance)) if impedance else None,
        unread=unread,
    )


def set_of(measured: SetupCurves) -> OneSession:
    """The directions of the session from which most of the averages follow, the newest of equals."""
    return one_session(measured, lambda curves: angles.averages_of(curves, mirror=_is_mirrored(curves)))


def _is_mirrored(known: Iterable[tuple[str, float]]) -> bool:
    """Whether one side stands for the other: only one was measured horizontally."""
    return len({np.sign(angle) for plane, angle in known if plane == "horizontal" and 0 < abs(angle) < 180}) == 1


def directivity(found: OneSession) -> Directivity:
    """What the angles give by ANSI/CTA-2034-A, and what lacks; one side stands for the other if it was not measured."""
    known = {direction: gridded(curve) for direction, curve in shown_set(found.curves).items()}
    mirrored = _is_mirrored(known)
    made = angles.directivity(known, mirror=mirrored)
    in_room = made.curves.get("in-room estimate")
    early, window = made.curves.get("early reflections"), made.curves.get("listening window")
    return Directivity(
        mirrored,
        made.curves,
        made.lacking,
        _in_room(in_room) if in_room else None,
        angles.consistency(early, window) if early and window else None,
        found.left_out,
    )


def impedance_in_numbers(record: CurveRecord) -> Impedance:
    """The minimum of a kept impedance, the rating it supports, and its hardest spot."""
    return read_impedance(record.hz, record.values, record.phase_deg)


@dataclass(frozen=True)
class Sensitivity:
    """The mean level over a band for 2.83 V at 1 m, dB SPL."""

    db: float
    band_hz: tuple[float, float]

    @property
    def is_partial(self) -> bool:
        """Whether it was read from a part of the band only."""
        return self.band_hz[0] > BAND_HZ[0] * COVERED or self.band_hz[1] < BAND_HZ[1] / COVERED


def is_too_near(stated: Conditions) -> bool:
    """Whether a level was read so near that it does not tell the one at 1 m."""
    return bool(stated.spl and stated.drive_volts and stated.distance_m and stated.distance_m < LEAST_DISTANCE_M)


def sensitivity_of(record: CurveRecord) -> Sensitivity | None:
    """The sensitivity that a response shows; None if not in dB SPL, or if drive or distance are unknown or too near."""
    stated, curve = record.conditions, response_of(record)
    middle = middle_of(curve)
    if middle is None or is_too_near(stated) or not (stated.spl and stated.drive_volts and stated.distance_m):
        return None
    level = mean_level(curve, *middle)
    return Sensitivity(sensitivity.at_283_v_1_m(level, stated.drive_volts, stated.distance_m), middle)


def _plain(impedance: Impedance) -> dict[str, Any]:
    """An impedance's numbers by name; what was not measured stands there only where something lacks."""
    found: dict[str, Any] = documents.plain(impedance)
    return {name: value for name, value in found.items() if name != "unmeasured" or value}


def _on_axis(record: CurveRecord, smoothing: float) -> OnAxis:
    curve, level = response_of(record), sensitivity_of(record)
    return OnAxis(
        direction=record.direction,
        valid_hz=curve.band,
        conditions=record.conditions,
        ends=_ends(curve),
        sensitivity_db=level.db if level else None,
        curve=shown(curve, smoothing),
        sensitivity_hz=level.band_hz if level and level.is_partial else None,
    )


def _ends(curve: Curve) -> Ends | None:
    middle = middle_of(curve)
    if middle is None:
        return None
    mean = mean_level(curve, *middle)
    made = shown(curve, ENDS_SMOOTHING)
    below = made.level_db - mean
    low, high = next(part for part in curve.parts if part[0] <= middle[0] and part[1] >= middle[1])
    seen = (made.hz >= low) & (made.hz <= high)  # beyond a gap nobody knows where it fell first
    ends = []
    for db in ENDS_DB:
        down = np.flatnonzero(seen & (made.hz < BAND_HZ[0]) & (below < -db))
        up = np.flatnonzero(seen & (made.hz > BAND_HZ[1]) & (below < -db))
        ends.append(
            End(db, float(made.hz[down[-1]]) if len(down) else None, float(made.hz[up[0]]) if len(up) else None)
        )
    return Ends(mean, tuple(ends))


def _in_room(curve: Curve) -> InRoom | None:
    """None where next to nothing was measured."""
    inside = (curve.hz >= SLOPE_HZ[0]) & (curve.hz <= SLOPE_HZ[1]) & curve.valid()
    if inside.sum() < LEAST_POINTS:
        return None
    octaves, level = np.log2(curve.hz[inside]), curve.level_db[inside]
    line = np.polyfit(octaves, level, 1)
    return InRoom(
        slope_db_per_octave=float(line[0]),
        bumpiness_db=float((level - np.polyval(line, octaves)).std()),
        from_hz=float(curve.hz[inside][0]),
        to_hz=float(curve.hz[inside][-1]),
    )
