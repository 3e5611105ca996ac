"""Figures of level against frequency: one response, two on one set of axes, their difference, harmonics. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audio.curves import draw
from audio.curves.curve import Curve
from audio.curves.lanes import Marked

from ..band_effect import REST_HZ, BandEffects
from ..conditions import Direction, where_in_words
from ..curve_comparison import CurveComparison
from ..curve_records import CurveRecord
from ..frequency_response import LEAST_POINTS, only_valid, points, response_of, shown
from .captions import measured_together, smoothing_in_words
from .figure import Labelled, Subject, columns, told
from .lines import Lines, lines

THD_HZ = 1000.0


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

    `marked` are words heard, each with the band that is stated for it, and `explained` what the caption says of them;
    for so many more there was no room (`left_out`). Beside words zero is what words are set against (`band_effect`),
    so that the line shows what is told of them.
    """

    marked: Sequence[Marked] = ()
    explained: str = ""
    left_out: int = 0

    def drawn(self) -> Any:
        """One line, the difference, around a bold zero."""
        words = title = " less ".join(self.comparison.names)
        if self.left_out:  # where no frame cuts it
            title += f"; {self.left_out} {'word' if self.left_out == 1 else 'words'} left out"
        made, curve = self.comparison, self.comparison.difference
        first, second = self.comparison.names
        shared_db = BandEffects(*((one,) for one in made.curves)).shared_db if self.marked else None
        zero = ""
        if shared_db is not None:
            curve = replace(curve, level_db=curve.level_db - shared_db)
            zero = f"0 dB: what most of {REST_HZ[0]:g} to {REST_HZ[1]:g} Hz has, against which words are judged"
        note = f"above 0: {first} gives more there; below 0: {second}\n{_how_compared(made, zero)}"
        if self.marked:  # first: a frame may cut the end of it, and without this the bars say nothing
            note = f"{self.explained}\n{note}"
        return draw.difference(
            curve,
            title=title,
            note=note,
            uncertainty_db=made.uncertainty_db,
            words=words,
            marked=self.marked,
        )


@dataclass(frozen=True, eq=False)
class Distortion:
    """Harmonics by order, dB against the fundamental; which points stand clear of their own floors; the floors.

    A floor lies on its harmonic's frequencies. `least_percent` is what a harmonic must reach to be seen at all.
    """

    name: str
    harmonics: Mapping[int, Curve]
    clear: Mapping[int, NDArray[np.bool_]]
    floors: Mapping[int, Curve]
    note: str
    least_percent: float | None = None
    gate_words: str = ""

    def _seen(self, order: int) -> NDArray[np.float64]:
        """A harmonic's level, dB; not-a-number where it does not stand clear of its floor."""
        return np.where(self.clear[order], self.harmonics[order].level_db, np.nan)

    @property
    def thd(self) -> float | None:
        """The harmonics above their own floors at `THD_HZ` against the fundamental, as a ratio; None where none is."""
        at = np.array([THD_HZ])
        there = [
            10 ** (float(curve.at(at)[0]) / 10)
            for order, curve in self.harmonics.items()
            if curve.band[0] <= THD_HZ <= curve.band[1]
            and self.clear[order][int(np.argmin(np.abs(np.log(curve.hz / THD_HZ))))]
        ]
        return float(np.sqrt(sum(there))) if there else None

    @property
    def largest(self) -> tuple[int, float, float] | None:
        """The harmonic that stands highest above its own floor: order, Hz and dB; None where none does."""
        tops = []
        for order in self.harmonics:
            seen = self._seen(order)
            if np.isfinite(seen).any():
                at = int(np.nanargmax(seen))
                tops.append((order, float(self.harmonics[order].hz[at]), float(seen[at])))
        return max(tops, key=lambda one: one[2], default=None)

    def to_document(self) -> dict[str, Any]:
        """Level and per cent against the fundamental's frequency, by harmonic, and the floor below it.

        None where a harmonic does not stand clear of its floor.
        """
        found: dict[str, Any] = {}
        for order, curve in self.harmonics.items():
            level = self._seen(order)
            own = columns(("hz", "db", "percent"), curve.hz, level, 100 * 10 ** (level / 20))
            if order in self.floors:
                own |= columns(("floor_db",), self.floors[order].level_db)
            found[f"harmonic {order}"] = own
        percent = None if self.thd is None else round(100 * self.thd, 4)
        return found | {"thd": {"hz": THD_HZ, "percent": percent, "relative_to": "fundamental"}}

    def sentences(self) -> list[str]:
        """The harmonics together at 1 kHz, and the largest of them; or that none stands above its own floor."""
        top, thd = self.largest, self.thd
        gated = [self.gate_words] if self.gate_words else []
        if top is None:
            least = "" if self.least_percent is None else f" ({self.least_percent:.2g} %)"
            return [f"harmonics: none above their own floor{least}", *gated]
        order, hz, db = top
        of = f"harmonics {min(self.harmonics)} to {max(self.harmonics)} above their own floors, against the fundamental"
        told = "none of them" if thd is None else f"{100 * thd:.2g} % ({20 * np.log10(thd):.1f} dB)"
        return [
            *gated,
            f"THD at {THD_HZ:.0f} Hz ({of}): {told}",
            f"largest: harmonic {order}, {100 * 10 ** (db / 20):.2g} % ({db:.1f} dB) at {hz:.0f} Hz",
        ]

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
    return Response(
        told(subject.name, found), found.direction, shown(response_of(found), subject.smoothing), note, unit
    )


def difference(found: CurveComparison, subject: Subject) -> Difference:
    """The difference of a comparison."""
    return Difference(found)


def distortion(found: Mapping[int, CurveRecord], subject: Subject) -> Distortion:
    """The harmonics by order, smoothed, each where it stands above its own floor."""
    curves, seen, floors = {}, {}, {}
    for order, kept in sorted(found.items()):
        curves[order], clear = _above_floor(kept, subject.smoothing)
        seen[order] = clear if clear.sum() >= LEAST_POINTS else np.zeros_like(clear)
        taken = kept.conditions.taken
        floor_db = None if taken is None else taken.floor_at(curves[order].hz)
        if floor_db is not None:
            floors[order] = Curve(curves[order].hz, floor_db, None, kept.conditions.valid_hz)
    first = found[min(found)]
    note = "relative to the fundamental, at its frequency; faint: the floor of each"
    caption = subject.caption(first, subject.smoothing_note, note)
    least = first.conditions.taken.least_percent if first.conditions.taken else None
    return Distortion(subject.name, curves, seen, floors, caption, least, _gate_words(found.values()))


def _gate_words(found: Iterable[CurveRecord]) -> str:
    """By which gate the harmonics were taken and where that leaves them valid; or that they were taken by none."""
    stated = [one.conditions for one in found if one.conditions.taken is not None]
    if not stated:
        return ""
    if any(one.ungated for one in stated):
        return "not gated: reflections are in these numbers; sweep again to have them gated"
    longest = max(stated, key=lambda one: one.gate_s)
    return f"within the gate of {1000 * longest.gate_s:.3g} ms: valid from {longest.valid_hz[0]:.0f} Hz"


def _above_floor(kept: CurveRecord, smoothing: float) -> tuple[Curve, NDArray[np.bool_]]:
    """A harmonic, smoothed, and which of its points stand clear of its own floor."""
    curve = Curve(kept.hz, kept.values, None, kept.conditions.valid_hz)
    taken = kept.conditions.taken
    made = only_valid(shown(curve, smoothing))
    if taken is None:
        return made, np.ones(len(made.hz), dtype=bool)
    clear = taken.clear(curve).astype(float)
    return made, np.asarray(np.interp(np.log(made.hz), np.log(curve.hz), clear) > 0.5)


def _how_compared(comparison: CurveComparison, zero: str = "") -> str:
    """At which level two curves are compared (`zero`, where that is none of a band's), how smoothed, and how sure."""
    low, high = comparison.band_hz
    note = f"{zero or f'at one level over {low:g} to {high:g} Hz'}; {smoothing_in_words(comparison.smoothing)}"
    if comparison.uncertainty_db is not None:
        note += f"; repeated measurements differ by {comparison.uncertainty_db:.2f} dB (one standard deviation)"
    return f"{note}\n{measured_together(dict(zip(comparison.names, comparison.records, strict=True)))}"
