"""What curves say: of one setup, and of two side by side. Numbers and figures; it keeps nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np

from audio.curves import angles, sensitivity, smooth, splice
from audio.curves.curve import Curve, difference, log_grid, mean_level, normalised
from audio.curves.impedance import read_impedance
from audio.errors import MeasureError

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from . import curve_records
from .curve_records import Kept

BAND_HZ = (300.0, 3000.0)  # two setups are set to one level here; our choice, stated with every comparison
SMOOTHING = 12.0
SLOPE_HZ = (100.0, 16_000.0)
LEAST_PLAYED_DB = 10.0
ENDS_DB = (3.0, 6.0, 10.0)
CHECKED = ("distance_m", "gate_ms", "drive_volts", "smoothing", "room", "axis")


@dataclass(frozen=True, eq=False)
class Compared:
    """Two setups on one set of axes, at one level in a stated band, and their difference.

    `uncertainty_db` is the standard uncertainty of the difference from repeated measurements; None without repeats.
    """

    names: tuple[str, str]
    curves: tuple[Curve, Curve]
    apart: Curve
    band_hz: tuple[float, float]
    smoothing: float
    uncertainty_db: float | None
    notes: list[str] = field(default_factory=list)

    @property
    def largest(self) -> tuple[float, float]:
        """Where the two differ most, and by how much (first less second), Hz and dB.

        Within what is valid, and where at least one of them plays: not more than 10 dB below its level in the band.
        """
        hz = self.apart.hz
        plays = np.fmax(self.curves[0].at(hz), self.curves[1].at(hz)) > -LEAST_PLAYED_DB
        seen = self.apart.valid() & (hz >= 20) & (hz <= 20_000) & plays
        at = int(np.argmax(np.where(seen, np.abs(self.apart.level_db), -1)))
        return float(self.apart.hz[at]), float(self.apart.level_db[at])

    @property
    def departure_db(self) -> float | None:
        """How far the two depart from a constant difference from 100 Hz to 10 kHz: what a pair should keep small."""
        try:
            return splice.pair_match(*self.curves)[1]
        except MeasureError:
            return None

    def to_document(self) -> dict[str, Any]:
        """The numbers of the comparison."""
        hz, db = self.largest
        return {
            "setups": list(self.names),
            "normalised_hz": list(self.band_hz),
            "smoothing": self.smoothing,
            "valid_hz": list(self.apart.band),
            "largest_difference_hz": hz,
            "largest_difference_db": db,
            "uncertainty_db": self.uncertainty_db,
            "departure_db": self.departure_db,
            "notes": self.notes,
            "difference": numbers(self.apart),
        }


def on_axis(casebook: Casebook, setup: Setup) -> Kept | None:
    """The newest response on axis; None if there is none."""
    return curve_records.newest(casebook, setup, *angles.ON_AXIS)


def compared(
    casebook: Casebook,
    one: Setup,
    other: Setup,
    *,
    band_hz: tuple[float, float] = BAND_HZ,
    smoothing: float = SMOOTHING,
    direction: tuple[str, int] = angles.ON_AXIS,
) -> Compared | None:
    """Two setups in one direction; None where one of them was not measured there.

    Raises
    ------
    MeasureError
        If the band lies beyond what is valid.
    """
    found = [curve_records.newest(casebook, setup, *direction) for setup in (one, other)]
    if found[0] is None or found[1] is None:
        return None
    names = (one.name, other.name)
    repeats = [_repeats(casebook, setup, direction, smoothing, band_hz) for setup in (one, other)]
    uncertainty = None
    if all(value is not None for value in repeats):
        uncertainty = float(np.hypot(repeats[0] or 0.0, repeats[1] or 0.0))
    return set_side_by_side(names, (found[0], found[1]), band_hz=band_hz, smoothing=smoothing, uncertainty=uncertainty)


def set_side_by_side(
    names: tuple[str, str],
    found: tuple[Kept, Kept],
    *,
    band_hz: tuple[float, float] = BAND_HZ,
    smoothing: float = SMOOTHING,
    uncertainty: float | None = None,
) -> Compared:
    """Any two curves: of two setups, of one in two rooms or places, of a pair's left and right."""
    first, second = (prepared(kept.curve(), smoothing, band_hz) for kept in found)
    apart = difference(first, second)
    return Compared(names, (first, second), apart, band_hz, smoothing, uncertainty, _unlike(names, found))


def prepared(curve: Curve, smoothing: float, band_hz: tuple[float, float] | None) -> Curve:
    """A curve on a logarithmic grid, smoothed, and at 0 dB over a band."""
    low, high = max(float(curve.hz[0]), 5.0), float(curve.hz[-1])
    hz = log_grid(low, high)
    made = Curve(hz, curve.at(hz), None, curve.valid_hz)
    if smoothing:
        made = smooth.smoothed(made, smoothing)
    return normalised(made, *band_hz) if band_hz else made


def summary(casebook: Casebook, setup: Setup) -> dict[str, Any]:
    """One setup's measurements in numbers: what was measured, ends, directivity, in-room estimate, impedance."""
    told: dict[str, Any] = {"setup": setup.name}
    directions = curve_records.by_angle(casebook, setup)
    told["directions"] = [{"plane": plane, "angle": angle} for plane, angle in sorted(directions)]
    axis = directions.get(angles.ON_AXIS)
    if axis is not None:
        curve = axis.curve()
        told["on_axis"] = {
            "valid_hz": list(curve.band),
            "conditions": asdict(axis.conditions),
            **_ends(curve),
            "sensitivity_283_v_1_m_db": _sensitivity(axis),
            "curve": numbers(prepared(curve, SMOOTHING, None)),
        }
    if len(directions) > 1 and axis is not None:
        told["directivity"] = directed(directions)
    held = curve_records.impedance_of(casebook, setup)
    if held is not None:
        phase = held.data[:, 2] if held.data.shape[1] > 2 else None
        told["impedance"] = asdict(read_impedance(held.data[:, 0], held.data[:, 1], phase))
    return told


def set_of(directions: Mapping[tuple[str, int], Kept], smoothing: float = 0.0) -> dict[tuple[str, int], Curve]:
    """The curves of a set, on one grid."""
    return {where: prepared(kept.curve(), smoothing, None) for where, kept in directions.items()}


def directed(directions: Mapping[tuple[str, int], Kept]) -> dict[str, Any]:
    """What the angles give by ANSI/CTA-2034-A, and what lacks; one side stands for the other if it was not measured."""
    known = set_of(directions)
    sides = {np.sign(angle) for plane, angle in known if plane == "horizontal" and 0 < abs(angle) < 180}
    mirrored = len(sides) == 1
    made = angles.directivity(known, mirror=mirrored)
    told: dict[str, Any] = {"mirrored": mirrored, "lacking": dict(made.lacking), "curves": {}}
    for name, curve in made.curves.items():
        told["curves"][name] = numbers(curve)
    if "in-room estimate" in made.curves:
        told["in_room"] = _slope(made.curves["in-room estimate"])
    if "early reflections" in made.curves and "listening window" in made.curves:
        told["consistency_db"] = angles.consistency(made.curves["early reflections"], made.curves["listening window"])
    return told


def numbers(curve: Curve, per_octave: int = 12) -> dict[str, list[float]]:
    """A curve as plain numbers, within what is valid."""
    low, high = curve.band
    hz = log_grid(max(low, 20.0), min(high, 20_000.0), per_octave) if high > low else np.array([])
    return {"hz": [round(float(v), 2) for v in hz], "db": [round(float(v), 3) for v in curve.at(hz)]}


def _ends(curve: Curve) -> dict[str, Any]:
    """Where the response falls so many dB below its mean, going down and up; None where it was not measured."""
    low, high = curve.band
    try:
        mean = mean_level(curve, max(BAND_HZ[0], low), min(BAND_HZ[1], high))
    except MeasureError:
        return {}
    made = prepared(curve, 6.0, None)
    below, seen = made.level_db - mean, made.valid()
    told: dict[str, Any] = {"mean_db": mean}
    for db in ENDS_DB:
        down = np.flatnonzero(seen & (made.hz < BAND_HZ[0]) & (below < -db))
        up = np.flatnonzero(seen & (made.hz > BAND_HZ[1]) & (below < -db))
        told[f"low_end_{db:.0f}db_hz"] = float(made.hz[down[-1]]) if len(down) else None
        told[f"high_end_{db:.0f}db_hz"] = float(made.hz[up[0]]) if len(up) else None
    return told


def _sensitivity(axis: Kept) -> float | None:
    """The level for 2.83 V at 1 m, where the curve is in dB SPL and drive and distance are known."""
    stated = axis.conditions
    if not (stated.spl and stated.drive_volts and stated.distance_m):
        return None
    curve = axis.curve()
    low, high = curve.band
    mean = mean_level(curve, max(BAND_HZ[0], low), min(BAND_HZ[1], high))
    return sensitivity.at_283_v_1_m(mean, stated.drive_volts, stated.distance_m)


def _slope(curve: Curve) -> dict[str, float]:
    """The straight line against log f that fits best, in dB an octave, and how far the curve departs from it."""
    inside = (curve.hz >= SLOPE_HZ[0]) & (curve.hz <= SLOPE_HZ[1]) & curve.valid()
    places, level = np.log2(curve.hz[inside]), curve.level_db[inside]
    line = np.polyfit(places, level, 1)
    return {
        "slope_db_per_octave": float(line[0]),
        "bumpiness_db": float((level - np.polyval(line, places)).std()),
        "from_hz": float(curve.hz[inside][0]),
        "to_hz": float(curve.hz[inside][-1]),
    }


def _repeats(
    casebook: Casebook, setup: Setup, direction: tuple[str, int], smoothing: float, band_hz: tuple[float, float]
) -> float | None:
    """The standard uncertainty of the newest curve, from all of that direction; None where there is but one."""
    every = [
        kept for kept in curve_records.curves_of(casebook, setup)
        if kept.kind in curve_records.DIRECTED and (kept.plane, kept.angle) == direction
    ]  # fmt: skip
    if len(every) < 2:
        return None
    curves = [prepared(kept.curve(), smoothing, band_hz) for kept in every]
    low, high = max(c.band[0] for c in curves), min(c.band[1] for c in curves)
    hz = log_grid(low, high, 12)
    return float(np.sqrt(np.mean(np.var([curve.at(hz) for curve in curves], axis=0, ddof=1))))


def _unlike(names: Sequence[str], found: Sequence[Kept | None]) -> list[str]:
    """Conditions that differ between the two, in words."""
    notes = []
    for what in CHECKED:
        own = [getattr(kept.conditions, what) for kept in found if kept is not None]
        if len(own) == 2 and own[0] != own[1]:
            said = [
                f"{name} {value if value not in (None, '') else 'not said'}"
                for name, value in zip(names, own, strict=True)
            ]
            notes.append(f"{what.replace('_', ' ')}: {', '.join(said)}")
    return notes
