"""Figures of level against frequency: one response, two on one set of axes, their difference, harmonics. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audio.curves import draw
from audio.curves.curve import Curve
from audio.curves.lanes import Marked

from ..conditions import Direction, where_in_words
from ..curve_comparison import CurveComparison
from ..curve_records import CurveRecord
from ..frequency_response import LEAST_POINTS, only_valid, points, response_of, shown
from .captions import measured_together, smoothing_in_words
from .figure import Labelled, Subject, columns
from .lines import Lines, lines


@dataclass(frozen=True, eq=False)
class Response:
    """One response of a setup: on axis, or toward where it was asked for."""

    name: str
    direction: Direction
    curve: Curve
    note: str
    unit: str = "dB"

    def to_document(self) -> dict[str, Any]:
        """Level against frequency."""
        return points(self.curve)

    def drawn(self) -> Any:
        """One line."""
        title = f"{self.name}, {where_in_words(self.direction)}"
        return draw.responses({self.name: self.curve}, title=title, note=self.note, unit=self.unit)


@dataclass(frozen=True, eq=False)
class Overlay:
    """Both curves of a comparison on one set of axes."""

    comparison: CurveComparison

    def to_document(self) -> dict[str, Any]:
        """The comparison's numbers, and both curves by name."""
        named = zip(self.comparison.names, self.comparison.curves, strict=True)
        return self.comparison.to_document() | {name: points(curve) for name, curve in named}

    def drawn(self) -> Any:
        """Two lines."""
        names = self.comparison.names
        curves = dict(zip(names, self.comparison.curves, strict=True))
        return draw.responses(curves, title=" and ".join(names), note=_how_compared(self.comparison))


@dataclass(frozen=True, eq=False)
class Difference(Overlay):
    """One curve less the other. The numbers are those of the overlay, which hold the difference too.

    `marked` are words heard, each with the band that is stated for it, and `explained` what the caption says of them.
    """

    marked: Sequence[Marked] = ()
    explained: str = ""

    def drawn(self) -> Any:
        """One line, the difference, around a bold zero."""
        title = " less ".join(self.comparison.names)
        made = self.comparison
        note = f"{_how_compared(made)}\n{self.explained}" if self.marked else _how_compared(made)
        return draw.difference(
            made.difference,
            title=title,
            note=note,
            uncertainty_db=made.uncertainty_db,
            words=title,
            marked=self.marked,
        )


@dataclass(frozen=True, eq=False)
class Distortion:
    """Harmonics by order, dB against the fundamental; which points stand clear of their own floors; the floors."""

    name: str
    harmonics: Mapping[int, Curve]
    clear: Mapping[int, NDArray[np.bool_]]
    floors: Mapping[int, Curve]
    note: str

    def to_document(self) -> dict[str, Any]:
        """Level and per cent against the fundamental's frequency, by harmonic, and the floor below it."""
        found: dict[str, Any] = {}
        for order, curve in self.harmonics.items():
            seen = self.clear[order]
            hz, level = curve.hz[seen], curve.level_db[seen]
            own = columns(("hz", "db", "percent"), hz, level, 100 * 10 ** (level / 20))
            if order in self.floors:
                own |= columns(("floor_db",), self.floors[order].at(hz))
            found[f"harmonic {order}"] = own
        return found

    def drawn(self) -> Any:
        """One line a harmonic, and its floor."""
        return draw.distortion(
            {f"harmonic {order}": curve for order, curve in self.harmonics.items()},
            {f"harmonic {order}": clear for order, clear in self.clear.items()},
            {f"harmonic {order}": curve for order, curve in self.floors.items()},
            title=f"{self.name}: distortion",
            note=self.note,
        )


def response(found: CurveComparison | CurveRecord | Sequence[Labelled], subject: Subject) -> Response | Overlay | Lines:
    """A response on axis; two on one set of axes where a comparison is asked for, more where more are named."""
    if isinstance(found, CurveComparison):
        return Overlay(found)
    if not isinstance(found, CurveRecord):
        return lines(found, subject)
    note, unit = subject.caption(found, subject.smoothing_note), "dB SPL" if found.conditions.spl else "dB"
    return Response(subject.name, found.direction, shown(response_of(found), subject.smoothing), note, unit)


def difference(found: CurveComparison, subject: Subject) -> Difference:
    """The difference of a comparison."""
    return Difference(found)


def distortion(found: Mapping[int, CurveRecord], subject: Subject) -> Distortion:
    """The harmonics by order, smoothed, each where it stands above its own floor."""
    curves, seen, floors = {}, {}, {}
    for order, kept in sorted(found.items()):
        made, clear = _above_floor(kept, subject.smoothing)
        if clear.sum() < LEAST_POINTS:
            continue
        curves[order], seen[order], taken = made, clear, kept.conditions.taken
        if taken is not None and taken.floor is not None:
            floors[order] = only_valid(replace(taken.floor, valid_hz=kept.conditions.valid_hz))
    first = found[min(found)]
    note = "relative to the fundamental, at its frequency; faint: the floor of each"
    return Distortion(subject.name, curves, seen, floors, subject.caption(first, subject.smoothing_note, note))


def _above_floor(kept: CurveRecord, smoothing: float) -> tuple[Curve, NDArray[np.bool_]]:
    """A harmonic, smoothed, and which of its points stand clear of its own floor."""
    curve = Curve(kept.hz, kept.values, None, kept.conditions.valid_hz)
    taken = kept.conditions.taken
    made = only_valid(shown(curve, smoothing))
    if taken is None:
        return made, np.ones(len(made.hz), dtype=bool)
    clear = taken.clear(curve).astype(float)
    return made, np.asarray(np.interp(np.log(made.hz), np.log(curve.hz), clear) > 0.5)


def _how_compared(comparison: CurveComparison) -> str:
    low, high = comparison.band_hz
    note = f"at one level over {low:g} to {high:g} Hz; {smoothing_in_words(comparison.smoothing)}"
    if comparison.uncertainty_db is not None:
        note += f"; repeated measurements differ by {comparison.uncertainty_db:.2f} dB (one standard deviation)"
    return f"{note}\n{measured_together(dict(zip(comparison.names, comparison.records, strict=True)))}"
