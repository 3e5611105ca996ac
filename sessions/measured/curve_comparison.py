"""Two curves side by side: at one level, their difference, and what was measured differently."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audio.curves import gaps, splice
from audio.curves.curve import Curve, difference, farthest, log_grid
from audio.errors import MeasureError

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from . import curve_records
from .audible import JUDGED_HZ, SOURCE, threshold_db
from .conditions import ON_AXIS, Conditions, Direction
from .curve_records import CurveRecord
from .frequency_response import BAND_HZ, SMOOTHING, points, response_of, shown
from .most_alike import NOT_SAID, how_in_words, most_alike, passed_over
from .repeats import repeats_of

MATCHED_HZ = (100.0, 10_000.0)  # over which a pair is judged
LEAST_PLAYED_DB = 20.0  # below its level in the band; our choice: less than that may be heard in the bass
STEP_OCTAVES = 1 / 47  # a little more than between two points of a comparison


@dataclass(frozen=True, eq=False)
class CurveComparison:
    """Two curves on one set of axes, at one level in a stated band, and their difference (first less second).

    `uncertainty_db` is the standard uncertainty of the difference from repeated measurements; None without repeats.
    `notes` say which conditions differ, `passed_over` which curves were taken where there are others.
    """

    names: tuple[str, str]
    records: tuple[CurveRecord, CurveRecord]
    curves: tuple[Curve, Curve]
    difference: Curve
    band_hz: tuple[float, float]
    smoothing: float
    uncertainty_db: float | None
    notes: tuple[str, ...]
    passed_over: tuple[str, ...] = ()

    @property
    def _plays(self) -> NDArray[np.bool_]:
        """Which points of the difference are valid and played by at least one of the two."""
        hz = self.difference.hz
        plays = np.fmax(self.curves[0].at(hz), self.curves[1].at(hz)) > -LEAST_PLAYED_DB
        return self.difference.valid() & plays

    @property
    def parts(self) -> list[tuple[float, float]]:
        """Where both were measured validly, as the numbers of each alone say: from and to, Hz.

        The difference is read on a grid, which ends up to two steps before that.
        """
        first, second = (response_of(record).parts for record in self.records)
        cut = [(max(a, c), min(b, d)) for a, b in first for c, d in second]
        return [(low, high) for low, high in cut if low < high]

    @property
    def largest(self) -> tuple[float, float]:
        """Where the two differ most, and by how much (first less second), Hz and dB.

        Within what is valid, and where at least one of them plays: at most `LEAST_PLAYED_DB` below its band's.
        """
        hz = self.difference.hz
        seen = self._plays & (hz >= 20) & (hz <= 20_000)
        at = farthest(self.difference.level_db, seen)
        return float(hz[at]), float(self.difference.level_db[at])

    @property
    def audible(self) -> tuple[float, float, float] | None:
        """Where the difference exceeds most times what can be heard there: Hz, dB, and that threshold in dB.

        As `largest`, where a threshold is known; None where the difference stays below it everywhere. Always judged at
        `SMOOTHING`, however finely the curves are drawn: the thresholds are of broad differences.
        """
        if self.smoothing != SMOOTHING:
            return compare_curves(self.names, self.records, band_hz=self.band_hz).audible
        hz, db = self.difference.hz, self.difference.level_db
        least = threshold_db(hz)
        times = np.where(self._plays, np.abs(db) / least, 0.0)
        at = int(np.argmax(times))
        return (float(hz[at]), float(db[at]), float(least[at])) if times[at] >= 1 else None

    @property
    def differs_from_hz(self) -> float | None:
        """The lowest frequency, up to 20 kHz, at which they differ by as much as can be heard; None: nowhere.

        Above `JUDGED_HZ`, where no threshold is known, the last one that is goes on: our choice, for remarks alone.
        """
        if self.smoothing != SMOOTHING:
            return compare_curves(self.names, self.records, band_hz=self.band_hz).differs_from_hz
        hz = self.difference.hz
        least = threshold_db(np.minimum(hz, JUDGED_HZ[1]))
        differs = self._plays & (hz <= 20_000) & (np.abs(self.difference.level_db) >= least)
        return float(hz[np.argmax(differs)]) if differs.any() else None

    @property
    def judged_hz(self) -> list[tuple[float, float]]:
        """The bands in which a threshold is known for what was measured, and one of the two plays: from and to, Hz."""
        hz, seen = self.difference.hz, self._plays
        edges = np.flatnonzero(np.diff(np.concatenate([[False], seen, [False]]).astype(int)))
        played = [
            (self._to_end(hz[start]), self._to_end(hz[end - 1]))
            for start, end in zip(edges[::2], edges[1::2], strict=True)
        ]
        cut = [(max(JUDGED_HZ[0], low), min(JUDGED_HZ[1], high)) for low, high in played]
        return [(low, high) for low, high in cut if low < high]

    def _to_end(self, hz: float) -> float:
        """A frequency of the grid, or the end of what is valid that lies a step of it away."""
        return next(
            (end for part in self.parts for end in part if abs(np.log2(end / hz)) < 2 * STEP_OCTAVES), float(hz)
        )

    @property
    def departure_hz(self) -> tuple[float, float]:
        """From where to where `departure_db` tells: of 100 Hz to 10 kHz what is valid, Hz."""
        low, high = self.difference.band
        return max(MATCHED_HZ[0], low), min(MATCHED_HZ[1], high)

    @property
    def departure_db(self) -> float | None:
        """How far the two depart from a constant difference over `departure_hz`: what a pair should keep small."""
        try:
            return splice.pair_match(*self.curves, *self.departure_hz)[1]
        except MeasureError:
            return None

    def to_document(self) -> dict[str, Any]:
        """The numbers of the comparison."""
        (hz, db), heard = self.largest, self.audible
        return {
            "setups": list(self.names),
            "normalised_hz": list(self.band_hz),
            "smoothing": self.smoothing,
            "valid_hz": [self.parts[0][0], self.parts[-1][1]],
            "largest_difference_hz": hz,
            "largest_difference_db": db,
            "audible": {
                "most": None if heard is None else dict(zip(("hz", "db", "threshold_db"), heard, strict=True)),
                "judged_hz": [list(band) for band in self.judged_hz],
                "source": SOURCE,
            },
            "uncertainty_db": self.uncertainty_db,
            "departure_db": self.departure_db,
            "departure_hz": list(self.departure_hz),
            "notes": list(self.notes),
            **({"passed_over": list(self.passed_over)} if self.passed_over else {}),
            "difference": points(self.difference),
        }


def compare_setups(
    casebook: Casebook,
    one: Setup,
    other: Setup,
    *,
    band_hz: tuple[float, float] = BAND_HZ,
    smoothing: float = SMOOTHING,
    direction: Direction = ON_AXIS,
) -> CurveComparison | None:
    """Two setups in one direction, by their curves measured most alike; None where one was not measured there.

    Raises
    ------
    MeasureError
        If the band lies beyond what is valid.
    """
    first, second = (curve_records.in_direction(casebook, setup, direction) for setup in (one, other))
    if not first or not second:
        return None
    chosen = most_alike(first, second)
    own = list(zip((one.name, other.name), chosen, (first, second), strict=True))
    spreads = [_spread_db(repeats_of(record, among), smoothing, band_hz) for _, record, among in own]
    uncertainty = None if spreads[0] is None or spreads[1] is None else float(np.hypot(spreads[0], spreads[1]))
    made = compare_curves(
        (one.name, other.name), (chosen[0], chosen[1]),
        band_hz=band_hz, smoothing=smoothing, uncertainty_db=uncertainty,
    )  # fmt: skip
    return replace(made, passed_over=tuple(filter(None, (passed_over(*parts) for parts in own))))


def compare_curves(
    names: tuple[str, str],
    records: tuple[CurveRecord, CurveRecord],
    *,
    band_hz: tuple[float, float] = BAND_HZ,
    smoothing: float = SMOOTHING,
    uncertainty_db: float | None = None,
) -> CurveComparison:
    """Any two curves: of two setups, of one in two rooms or places, of a pair's left and right.

    Raises
    ------
    MeasureError
        If the band lies beyond what is valid.
    CatalogueError
        If one of them is no frequency response.
    """
    first, second = (shown(response_of(record), smoothing, band_hz) for record in records)
    return CurveComparison(
        names,
        records,
        curves=(first, second),
        difference=difference(first, second, None if smoothing else first.hz),
        band_hz=band_hz,
        smoothing=smoothing,
        uncertainty_db=uncertainty_db,
        notes=tuple(measured_differently(names, [record.conditions for record in records])),
    )


def _spread_db(records: Sequence[CurveRecord], smoothing: float, band_hz: tuple[float, float]) -> float | None:
    """The standard uncertainty of one curve, from its repeats; None where fewer than two can be set to one level."""
    curves = list[Curve]()
    for record in records if len(records) > 1 else ():
        try:
            curves.append(shown(response_of(record), smoothing, band_hz))
        except MeasureError:  # narrower than the others, or with a gap: it tells nothing here
            continue
    if len(curves) < 2:
        return None
    low, high = max(curve.band[0] for curve in curves), min(curve.band[1] for curve in curves)
    hz = log_grid(low, high, 12)
    hz = hz[~gaps.inside(hz, gaps.joined(*(curve.gaps_hz for curve in curves)))]
    return float(np.sqrt(np.mean(np.var([curve.at(hz) for curve in curves], axis=0, ddof=1))))


def measured_differently(names: Sequence[str], conditions: Sequence[Conditions]) -> list[str]:
    """Conditions that differ between the two, in words; what reads the same does not differ."""
    one, other = (_in_words(stated) for stated in conditions)
    return [
        f"{what}: {names[0]} {one[what] or NOT_SAID}, {names[1]} {other[what] or NOT_SAID}"
        for what in one
        if one[what] != other[what]
    ]


def _in_words(stated: Conditions) -> dict[str, str]:
    """The conditions that two curves should share, as people read them; empty where nobody said."""
    own = how_in_words(stated)
    order = ("distance", "gate", "drive", "smoothing", "room", "axis")
    return {what: own[what] for what in order} | {"which of several": stated.one_of.words}
