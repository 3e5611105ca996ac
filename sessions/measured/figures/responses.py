"""Figures of level against frequency: one response, two on one set of axes, their difference, harmonics. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from audio.curves import draw
from audio.curves.curve import Curve

from ..conditions import Direction, where_in_words
from ..curve_comparison import CurveComparison
from ..curve_records import CurveRecord
from ..frequency_response import points, response_of, shown
from .figure import Labelled, Subject, columns, smoothing_in_words
from .lines import Lines, lines


@dataclass(frozen=True, eq=False)
class Response:
    """One response of a setup: on axis, or toward where it was asked for."""

    name: str
    direction: Direction
    curve: Curve
    note: str

    def to_document(self) -> dict[str, Any]:
        """Level against frequency."""
        return points(self.curve)

    def drawn(self) -> Any:
        """One line."""
        return draw.responses(
            {self.name: self.curve}, title=f"{self.name}, {where_in_words(self.direction)}", note=self.note
        )


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
    """One curve less the other. The numbers are those of the overlay, which hold the difference too."""

    def drawn(self) -> Any:
        """One line, the difference."""
        title = " less ".join(self.comparison.names)
        curves = {title: self.comparison.difference}
        return draw.responses(curves, title=title, note=_how_compared(self.comparison), span_db=25.0)


@dataclass(frozen=True, eq=False)
class Distortion:
    """The harmonics of a sweep by order, in dB below the fundamental."""

    name: str
    harmonics: Mapping[int, Curve]

    def to_document(self) -> dict[str, Any]:
        """Level against the fundamental's frequency, by harmonic."""
        return {
            f"harmonic {order}": columns(("hz", "db"), curve.hz, curve.level_db)
            for order, curve in self.harmonics.items()
        }

    def drawn(self) -> Any:
        """One line a harmonic."""
        return draw.responses(
            {f"harmonic {order}": curve for order, curve in self.harmonics.items()},
            title=f"{self.name}: distortion",
            note="at the fundamental's frequency",
            unit="dB below the fundamental",
            span_db=75.0,
        )


def response(found: CurveComparison | CurveRecord | Sequence[Labelled], subject: Subject) -> Response | Overlay | Lines:
    """A response on axis; two on one set of axes where a comparison is asked for, more where more are named."""
    if isinstance(found, CurveComparison):
        return Overlay(found)
    if not isinstance(found, CurveRecord):
        return lines(found, subject)
    note, stated = subject.smoothing_note, found.conditions
    if stated.gate_ms:
        note += f"; gate {stated.gate_ms:.1f} ms, {stated.gate_window}"
    return Response(subject.name, found.direction, shown(response_of(found), subject.smoothing), note)


def difference(found: CurveComparison, subject: Subject) -> Difference:
    """The difference of a comparison."""
    return Difference(found)


def distortion(found: Mapping[int, CurveRecord], subject: Subject) -> Distortion:
    """The harmonics by order, each where it stands above its own floor."""
    curves = {order: _above_floor(kept) for order, kept in sorted(found.items())}
    return Distortion(subject.name, {order: curve for order, curve in curves.items() if curve is not None})


def _above_floor(kept: CurveRecord) -> Curve | None:
    """A harmonic where it stands clear of its own floor; None where it nowhere does."""
    curve = Curve(kept.hz, kept.values, None, kept.conditions.valid_hz)
    taken = kept.conditions.taken
    seen = curve.valid() & (taken.clear(curve) if taken is not None else True)
    return replace(curve, hz=curve.hz[seen], level_db=curve.level_db[seen]) if seen.sum() > 1 else None


def _how_compared(comparison: CurveComparison) -> str:
    low, high = comparison.band_hz
    note = f"at one level over {low:g} to {high:g} Hz; {smoothing_in_words(comparison.smoothing)}"
    if comparison.uncertainty_db is not None:
        note += f"; repeated measurements differ by {comparison.uncertainty_db:.2f} dB (one standard deviation)"
    return note
