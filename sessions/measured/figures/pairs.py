"""The figure of a left and a right loudspeaker (or side of headphones, or channel): both, and how they differ. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from audio.curves import draw, gaps, splice
from audio.curves.curve import Curve, difference, farthest

from ..curve_comparison import MATCHED_HZ, measured_differently
from ..curve_records import CurveRecord
from ..frequency_response import points, response_of, shown
from ..member import SIDES
from ..shared_level import SharedLevel, shared_level
from .figure import Subject, signed
from .members import Sides


@dataclass(frozen=True, eq=False)
class PairFigure:
    """Left and right, left less right, and what that comes to from 100 Hz to 10 kHz.

    `mean_db` is their difference in level (None where they share no calibration), `departure_db` how far they depart
    from it, at `departure_hz`; `notes` say what was measured differently, `lacks` what was not,
    `passed_over` which curves were taken where there are others.
    """

    name: str
    note: str
    records: tuple[CurveRecord, CurveRecord]
    curves: tuple[Curve, Curve]
    difference: Curve
    level: SharedLevel
    mean_db: float | None
    departure_db: float
    departure_hz: float
    from_hz: float
    to_hz: float
    notes: tuple[str, ...]
    lacks: tuple[str, ...] = ()
    passed_over: tuple[str, ...] = ()

    def to_document(self) -> dict[str, Any]:
        """The numbers by name."""
        left, right = self.curves
        return {
            "left": {"id": self.records[0].id, **points(left)},
            "right": {"id": self.records[1].id, **points(right)},
            "difference": points(self.difference),
            "levels": self.level.words,
            "mean_difference_db": None if self.mean_db is None else round(self.mean_db, 3),
            "departure_db": round(self.departure_db, 3),
            "departure_hz": round(self.departure_hz, 1),
            "over_hz": [round(self.from_hz, 1), round(self.to_hz, 1)],
            "notes": list(self.notes),
            **({"lacks": list(self.lacks)} if self.lacks else {}),
            **({"passed_over": list(self.passed_over)} if self.passed_over else {}),
        }

    def sentences(self) -> list[str]:
        """The difference in level and balance, and what was measured differently."""
        level = "" if self.mean_db is None else f"{signed(self.mean_db)} dB on average, and "
        return [
            f"left less right from {self.from_hz:.0f} to {self.to_hz:.0f} Hz: {level}{self.departure_db:.2f} dB from "
            f"a constant at most, at {self.departure_hz:.0f} Hz",
            *self.lacks,
            self.level.words,
            *(f"measured differently: {note}" for note in self.notes),
            *(f"several: {note}" for note in self.passed_over),
        ]

    def drawn(self) -> Any:
        """Both on one set of axes."""
        note = f"{self.note}; {self.departure_db:.1f} dB from a constant difference at most\n{self.level.words}"
        curves: dict[str, Curve] = dict(zip(SIDES, self.curves, strict=True))
        return draw.responses(curves, title=f"{self.name}: left and right", note=note, unit=self.level.unit)


def pair(sides: Sides, subject: Subject) -> PairFigure:
    """How a pair agrees; levels as they are where both share a calibration, otherwise at one level in a band."""
    found = (sides.left, sides.right)
    level = shared_level(found, subject.one_calibration)
    band = None if level.absolute else subject.band_hz
    left, right = (shown(response_of(record), subject.smoothing, band) for record in found)
    apart = difference(left, right, None if subject.smoothing else left.hz)
    low, high = max(MATCHED_HZ[0], apart.band[0]), min(MATCHED_HZ[1], apart.band[1])
    mean, departure = splice.pair_match(left, right, low, high)
    inside = (apart.hz >= low) & (apart.hz <= high) & apart.valid()
    over = tuple(gap for gap in apart.gaps_hz if gap[0] < high and gap[1] > low)
    at = farthest(apart.level_db - mean, inside)
    if not level.absolute:
        words = f"{level.words}: at one level over {subject.band_hz[0]:g} to {subject.band_hz[1]:g} Hz"
        level = SharedLevel(False, "dB", words)
    differ = measured_differently(SIDES, [record.conditions for record in found])
    lacks = (f"{gaps.in_words(over)}, which is left out",) if over else ()
    return PairFigure(
        subject.name,
        subject.caption_of(dict(zip(SIDES, found, strict=True)), subject.smoothing_note),
        found,
        (left, right),
        apart,
        level,
        mean if level.absolute else None,
        departure,
        float(apart.hz[at]),
        low,
        high,
        tuple(note for note in differ if not note.startswith("which of several")),
        lacks,
        sides.passed_over,
    )
