"""Figures of several curves on one set of axes: any that are named, and drivers with their sum. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from audio.curves import draw, drivers
from audio.curves.curve import Curve, difference, farthest
from audio.curves.drivers import Crossover
from audio.errors import MeasureError

from ...casebook import documents
from ..curve_records import CurveRecord
from ..frequency_response import points, response_of, shown
from ..shared_level import SharedLevel, shared_level
from ..timed_response import HOW, timed_responses
from .figure import Labelled, Subject, signed

UPWARDS = ("woofer", "midrange", "tweeter")
ADDED = (*UPWARDS, "port")


@dataclass(frozen=True, eq=False)
class Summed:
    """What the drivers give together by calculation, and that less the measured sum (None where none was measured)."""

    of: Sequence[str]
    curve: Curve
    less_measured: Curve | None
    crossovers: Sequence[Crossover]

    def to_document(self) -> dict[str, Any]:
        """The numbers by name."""
        found: dict[str, Any] = {"of": list(self.of), "how": HOW, **points(self.curve)}
        if self.less_measured is None:
            return {"sum": found}
        hz, db = _largest(self.less_measured, self.less_measured.band)
        inside = [_largest(self.less_measured, (one.from_hz, one.to_hz)) for one in self.crossovers]
        worst = max((db for _, db in inside), key=abs, default=None)
        return {
            "sum": found,
            "sum_less_measured": {
                "largest_hz": round(hz, 2),
                "largest_db": round(db, 3),
                "in_crossover_db": None if worst is None else round(worst, 3),
                **points(self.less_measured),
            },
        }


@dataclass(frozen=True, eq=False)
class Lines:
    """Curves by label on one set of axes, and what follows of them where they are drivers.

    `no_sum` says why there is no sum; empty where there is one, or none was asked for.
    """

    title: str
    note: str
    level: SharedLevel
    records: Mapping[str, CurveRecord]
    curves: Mapping[str, Curve]
    crossovers: Mapping[tuple[str, str], Crossover]
    summed: Summed | None = None
    no_sum: str = ""

    def to_document(self) -> dict[str, Any]:
        """The numbers by name."""
        found: dict[str, Any] = {
            "absolute": self.level.absolute,
            "levels": self.level.words,
            "curves": {
                name: {"id": record.id, "role": record.conditions.one_of.role, **points(self.curves[name])}
                for name, record in self.records.items()
            },
            "crossovers": [
                {"from": one, "to": other, **documents.plain(place)} for (one, other), place in self.crossovers.items()
            ],
        }
        if self.summed is not None:
            found |= self.summed.to_document()
        return found | ({"no_sum": self.no_sum} if self.no_sum else {})

    def sentences(self) -> list[str]:
        """How levels stand, where drivers hand over, how their sum agrees."""
        found = [self.level.words]
        found += [
            f"{one} hands over to {other} at {place.at_hz:.0f} Hz; both count from {place.from_hz:.0f} to "
            f"{place.to_hz:.0f} Hz (within {drivers.REGION_DB:g} dB of each other)"
            for (one, other), place in self.crossovers.items()
        ]
        if self.summed is not None and self.summed.less_measured is not None:
            hz, db = _largest(self.summed.less_measured, self.summed.less_measured.band)
            found.append(f"the sum ({HOW}) departs from the measured one by {signed(db, 1)} dB at most, at {hz:.0f} Hz")
        elif self.summed is not None:
            found.append(f"the sum is {HOW}; no measured one (--role sum) stands beside it")
        return [*found, *([self.no_sum] if self.no_sum else [])]

    def drawn(self) -> Any:
        """One line a curve; the crossover regions shaded, the calculated sum with them."""
        curves = dict(self.curves)
        if self.summed is not None:
            curves["sum, calculated"] = self.summed.curve
        marked = [
            (place.from_hz, place.to_hz, f"{one} to {other}: {place.at_hz:.0f} Hz")
            for (one, other), place in self.crossovers.items()
        ]
        note = "\n".join(part for part in (self.note, self.level.words, self.no_sum) if part)
        return draw.responses(curves, title=self.title, note=note, unit=self.level.unit, marked=marked)


def lines(found: Sequence[Labelled], subject: Subject) -> Lines:
    """Curves on one set of axes: levels as they are where these share a calibration, otherwise at one level in a band.

    Drivers are never set to one level: where they share no calibration they stand as they are kept, and it is said.
    """
    title = " and ".join(label for label, _ in found) if len(found) < 4 else f"{len(found)} curves"
    return _lines(found, subject, title)


def driver_lines(found: Sequence[Labelled], subject: Subject) -> Lines:
    """A setup's drivers with what they give together, beside their sum as it was measured."""
    made = _lines(found, subject, f"{subject.name}: drivers")
    try:
        return _summed(made, subject)
    except MeasureError as error:
        return replace(made, no_sum=f"no sum: {error}")


def _lines(found: Sequence[Labelled], subject: Subject, title: str) -> Lines:
    records = dict(_unlike(found))
    level = shared_level(list(records.values()), subject.one_calibration)
    roles = any(record.conditions.one_of.role for record in records.values())
    together = not level.absolute and not roles
    band = subject.band_hz if together else None
    curves = {name: shown(response_of(record), subject.smoothing, band) for name, record in records.items()}
    if together:
        low, high = subject.band_hz
        level = SharedLevel(False, "dB", f"{level.words}: at one level over {low:g} to {high:g} Hz")
    elif not level.absolute:
        level = SharedLevel(False, "dB", f"{level.words}: as they are kept, not to be set against each other")
    return Lines(
        title,
        subject.caption_of(records, subject.smoothing_note),
        level,
        records,
        curves,
        _crossovers(records, curves) if level.absolute else {},
    )


def _unlike(found: Sequence[Labelled]) -> list[Labelled]:
    """Labels that tell curves apart, each curve once."""
    once = {record.id: (label, record) for label, record in found}
    names = [label for label, _ in once.values()]
    return [
        (label if names.count(label) == 1 else f"{label}, {_told_apart(record, number)}", record)
        for number, (label, record) in enumerate(once.values(), 1)
    ]


def _told_apart(record: CurveRecord, number: int) -> str:
    """What tells a curve from others of its name; never its identifier."""
    stated = record.conditions
    how = "; ".join(part for part in (stated.one_of.words, str(record.direction), stated.when, stated.note) if part)
    return f"{number}: {how}"


def _crossovers(records: Mapping[str, CurveRecord], curves: Mapping[str, Curve]) -> dict[tuple[str, str], Crossover]:
    """Where each driver hands over to the next one up, of those that are there once."""
    by_role = {record.conditions.one_of.role: name for name, record in records.items()}
    there = [by_role[role] for role in UPWARDS if role in by_role]
    places = {(one, other): drivers.crossover(curves[one], curves[other]) for one, other in pairwise(there)}
    return {pair: place for pair, place in places.items() if place is not None}


def _summed(made: Lines, subject: Subject) -> Lines:
    if not made.level.absolute:
        why = made.level.words.partition(":")[0]
        return replace(made, no_sum=f"no sum: {why}; --one-calibration says that they do")
    parts = {name: record for name, record in made.records.items() if record.conditions.one_of.role in ADDED}
    total = drivers.summed(timed_responses(list(parts.values())))
    curve = shown(total, subject.smoothing)
    measured = next(
        (made.curves[name] for name, one in made.records.items() if one.conditions.one_of.role == "sum"), None
    )
    less = None if measured is None else difference(curve, measured, curve.hz)
    return replace(made, summed=Summed(list(parts), curve, less, list(made.crossovers.values())))


def _largest(curve: Curve, band_hz: tuple[float, float]) -> tuple[float, float]:
    """Where within a band, and within what is valid, a difference is largest, Hz and dB."""
    inside = curve.valid() & (curve.hz >= band_hz[0]) & (curve.hz <= band_hz[1])
    if not inside.any():
        raise MeasureError("the calculated and the measured sum share no valid frequency there")
    at = farthest(curve.level_db, inside)
    return float(curve.hz[at]), float(curve.level_db[at])
