"""Figures of a mean with its spread: over places around the chair, over seatings on a coupler. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from audio.curves import averages, draw
from audio.curves.averages import Averaged
from audio.curves.curve import Curve, difference, farthest, log_grid, mean_level

from ..curve_records import CurveRecord
from ..frequency_response import points, response_of, shown
from .figure import Subject, signed
from .members import Group

TARGET = "target"
LOWEST_HZ, HIGHEST_HZ = 20.0, 20_000.0


@dataclass(frozen=True, eq=False)
class Mean:
    """A mean over curves with their labels, what was left out, and the mean less the target, if there is one."""

    averaged: Averaged
    records: Mapping[str, CurveRecord]
    left_out: Mapping[str, str]
    target: Curve | None = None
    less_target: Curve | None = None

    def to_document(self) -> dict[str, Any]:
        """The numbers by name; the spread is one standard deviation."""
        made = self.averaged
        spread = Curve(made.mean.hz, made.spread_db, None, made.mean.valid_hz)
        found: dict[str, Any] = {
            "of": {name: record.id for name, record in self.records.items()},
            "left_out": dict(self.left_out),
            "valid_hz": list(made.mean.band),
            **points(made.mean),
            "spread_db": points(spread)["db"],
        }
        if self.target is not None and self.less_target is not None:
            found |= {"target": points(self.target), "less_target": points(self.less_target)}
        return found


@dataclass(frozen=True, eq=False)
class MeanFigure:
    """One mean or several by name, on one set of axes."""

    title: str
    note: str
    unit: str
    means: Mapping[str, Mean]
    target: str = ""

    def to_document(self) -> dict[str, Any]:
        """The means by name, how they were made, and the target's file."""
        found = {name: mean.to_document() for name, mean in self.means.items()}
        return {**found, "how": self.note.replace("\n", "; "), **({"target_file": self.target} if self.target else {})}

    def sentences(self) -> list[str]:
        """How many curves each mean holds, how far they spread, how far it departs from a target, what was left out."""
        found = []
        for name, mean in self.means.items():
            of = f"{name}, of {len(mean.records)}" if name != "mean" else f"mean of {len(mean.records)}"
            hz, spread = mean.averaged.mean.hz, mean.averaged.spread_db
            inside = mean.averaged.mean.valid() & (hz >= LOWEST_HZ) & (hz <= HIGHEST_HZ)
            if inside.any():
                at = farthest(spread, inside)
                found.append(
                    f"{of} ({', '.join(mean.records)}): they spread by {np.median(spread[inside]):.1f} dB (standard "
                    f"deviation, median over frequency), by {spread[at]:.1f} dB at {hz[at]:.0f} Hz"
                )
            if mean.less_target is not None:
                less = mean.less_target
                seen = less.valid() & (less.hz >= LOWEST_HZ) & (less.hz <= HIGHEST_HZ)
                at = farthest(less.level_db, seen)
                found.append(
                    f"{of} less {TARGET} {self.target}: {signed(less.level_db[at], 1)} dB at most, at "
                    f"{less.hz[at]:.0f} Hz"
                )
            found += [f"left out: {one} ({why})" for one, why in mean.left_out.items()]
        return found

    def drawn(self) -> Any:
        """A line with a band of one standard deviation for each mean, and the target."""
        curves: dict[str, Curve] = {}
        around = {}
        for name, mean in self.means.items():
            label = f"{name}, mean of {len(mean.records)}" if name != "mean" else f"mean of {len(mean.records)}"
            curves[label] = mean.averaged.mean
            around[label] = mean.averaged.around()
            if mean.target is not None:
                curves.setdefault(_target_in_words(self.target), mean.target)
        return draw.responses(curves, title=self.title, note=self.note, unit=self.unit, around=around)


def places(found: Group, subject: Subject) -> MeanFigure:
    """The energy mean over places around the chair, with its spread."""
    how = "energy mean over places, ± one standard deviation"
    return _figure({"mean": found}, subject, averages.energy_mean, f"{subject.name}: around the chair", how)


def seatings(found: Mapping[str, Group], subject: Subject) -> MeanFigure:
    """The mean of the levels over seatings on a coupler, with its spread, for each side."""
    how = "mean of the levels over seatings, ± one standard deviation"
    couplers = dict.fromkeys(one.conditions.one_of.coupler for group in found.values() for _, one in group.curves)
    return _figure(found, subject, averages.level_mean, f"{subject.name} on {' and '.join(couplers)}", how)


def _figure(
    groups: Mapping[str, Group],
    subject: Subject,
    mean_of: Callable[[Sequence[Curve]], Averaged],
    title: str,
    how: str,
) -> MeanFigure:
    means = {}
    for name, group in groups.items():
        curves = [shown(response_of(record), subject.smoothing) for _, record in group.curves]
        made = mean_of(curves)
        target = None if subject.target is None else _at_level(subject.target[1], made.mean, subject.band_hz)
        less = None if target is None else difference(made.mean, target, made.mean.hz)
        means[name] = Mean(made, dict(group.curves), group.left_out, target, less)
    every = {
        label if len(groups) == 1 else f"{name}, {label}": record
        for name, group in groups.items()
        for label, record in group.curves
    }
    note = f"{how}; {subject.caption_of(every, subject.smoothing_note)}"
    in_spl = all(record.conditions.spl for group in groups.values() for _, record in group.curves)
    named = subject.target[0] if subject.target else ""
    if named:
        low, high = subject.band_hz
        note += f"\n{_target_in_words(named)} at the mean's level over {low:g} to {high:g} Hz"
    return MeanFigure(title, note, "dB SPL" if in_spl else "dB", means, named)


def _target_in_words(file: str) -> str:
    """The target by its file's name, which often says what it is."""
    return file if TARGET in file.lower() else f"{TARGET} {file}"


def _at_level(target: Curve, mean: Curve, band_hz: tuple[float, float]) -> Curve:
    """The target on a fine grid, at the mean's level in a band."""
    hz = log_grid(float(target.hz[0]), float(target.hz[-1]))
    fine = Curve(hz, target.at(hz))
    return fine.shifted(mean_level(mean, *band_hz) - mean_level(fine, *band_hz))
