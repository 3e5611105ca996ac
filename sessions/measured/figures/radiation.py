"""Figures of level by angle: the curves of one plane as lines or as a map, and the directivity of the set. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from audio.curves import draw, maps
from audio.curves.curve import Curve, difference

from ...errors import CatalogueError
from .. import curve_summary
from ..conditions import ON_AXIS, Direction, Plane, where_in_words
from ..curve_records import CurveRecord
from ..curve_summary import Directivity
from ..frequency_response import gridded, only_valid, points, shown_set
from ..one_session import OneSession
from .captions import measured_together
from .figure import Subject

LEAST_ANGLES = 3
REAR = 180.0  # and -180: one direction
DRAWN = ("on axis", "listening window", "early reflections", "sound power", "in-room estimate")


@dataclass(frozen=True, eq=False)
class AngleFamily:
    """The curves of one plane by angle."""

    name: str
    plane: Plane
    curves: Mapping[float, Curve]
    note: str
    unit: str = "dB"

    def to_document(self) -> dict[str, Any]:
        """Level against frequency, by angle."""
        return {str(angle): points(curve) for angle, curve in self.curves.items()}

    def drawn(self) -> Any:
        """One line an angle."""
        return draw.family(self.curves, title=f"{self.name}, {self.plane}", note=self.note, unit=self.unit)


@dataclass(frozen=True, eq=False)
class PolarMap(AngleFamily):
    """The curves of one plane as a map: each less the one on axis, on one grid, as far as both are valid."""

    def drawn(self) -> Any:
        """Level relative to the axis, against frequency and angle."""
        return maps.polar_map(self.curves, title=f"{self.name}, {self.plane}", note=self.note)


@dataclass(frozen=True, eq=False)
class DirectivityFigure:
    """What the angles give by ANSI/CTA-2034-A: the same curves that the summary holds, neither smoothed nor completed.

    The standard averages what was measured. Smoothing first would hide what the averages are to show, and filling in
    angles from the other side is only done (and said) where that side was not measured at all.
    """

    name: str
    directivity: Directivity
    measured: str
    unit: str = "dB"

    def to_document(self) -> dict[str, Any]:
        """Curves by name, what they come to, and what lacks."""
        return self.directivity.to_document()

    def drawn(self) -> Any:
        """The axis, the averages and the in-room estimate, as far as the angles allow."""
        found = self.directivity
        curves = {part: found.curves[part] for part in DRAWN if part in found.curves}
        lacking = "; ".join(f"{part} {why}" for part, why in found.lacking.items() if part in DRAWN)
        note = f"{self.measured}; not smoothed"
        if found.mirrored:
            note += "; mirrored: one side was measured and stands for the other"
        if found.session:
            note += f"; {found.session}"
        if lacking:
            note += f"; lacking: {lacking}"
        indices = {part: curve for part, curve in found.curves.items() if part.endswith(" DI")}
        title = f"{self.name}: by ANSI/CTA-2034-A"
        return draw.responses(curves, title=title, note=note, unit=self.unit, below=indices)


def horizontal(found: OneSession, subject: Subject) -> AngleFamily:
    """The horizontal angles."""
    return _family(found, subject, "horizontal")


def vertical(found: OneSession, subject: Subject) -> AngleFamily:
    """The vertical angles."""
    return _family(found, subject, "vertical")


def polar(found: OneSession, subject: Subject) -> PolarMap:
    """The horizontal angles as a map."""
    return _polar(found, subject, "horizontal")


def polar_vertical(found: OneSession, subject: Subject) -> PolarMap:
    """The vertical angles as a map."""
    return _polar(found, subject, "vertical")


def _family(found: OneSession, subject: Subject, plane: Plane) -> AngleFamily:
    curves = _of_plane(found, subject, plane)
    return AngleFamily(subject.name, plane, curves, _caption(found, subject, plane), _unit(found.curves))


def _unit(found: Mapping[Direction, CurveRecord]) -> str:
    return "dB SPL" if all(record.conditions.spl for record in found.values()) else "dB"


def _polar(found: OneSession, subject: Subject, plane: Plane) -> PolarMap:
    curves = {angle: gridded(curve) for angle, curve in _of_plane(found, subject, plane).items()}
    relative = {angle: only_valid(difference(curve, curves[0], curve.hz)) for angle, curve in curves.items()}
    return PolarMap(subject.name, plane, relative, _caption(found, subject, plane))


def _caption(found: OneSession, subject: Subject, plane: Plane = "horizontal") -> str:
    """How the angles were measured, and what of other sessions is left out."""
    return subject.caption_of(_in_order(found.curves, plane), subject.smoothing_note, found.left_out)


def _in_order(found: Mapping[Direction, CurveRecord], plane: Plane | None = None) -> dict[str, CurveRecord]:
    """The curves of a plane (None: of both) by their direction, as captions call it: the axis first, then outwards."""
    own = [one for one in found if plane in (None, one.plane) or one == ON_AXIS]
    return {where_in_words(one): found[one] for one in sorted(own, key=lambda one: (abs(one.angle), one))}


def directivity(found: OneSession, subject: Subject) -> DirectivityFigure:
    """What all angles give together."""
    made = curve_summary.directivity(found)
    return DirectivityFigure(subject.name, made, measured_together(_in_order(found.curves)), _unit(found.curves))


def _of_plane(found: OneSession, subject: Subject, plane: Plane) -> dict[float, Curve]:
    """The curves of a plane by angle: those measured in it, and the axis, which both planes share.

    The other plane's curve from behind is left out: a reader would take it for one of this plane.

    Raises
    ------
    CatalogueError
        If they are fewer than `LEAST_ANGLES`: neither lines nor a map show how the level follows the angle then.
    """
    own = {one: record for one, record in found.curves.items() if one.plane == plane or one == ON_AXIS}
    by_angle = {angle: curve for (_, angle), curve in shown_set(own, subject.smoothing).items()}
    if -REAR in by_angle and any(0 < angle < REAR for angle in by_angle):
        by_angle.setdefault(REAR, by_angle[-REAR])
    curves = dict(sorted(by_angle.items()))
    if len(curves) < LEAST_ANGLES:
        raise CatalogueError(f"{subject.name!r} has too few {plane} angles for a picture; measure three or more")
    return curves
