"""From a kept curve to a frequency response, and the response as it is shown: gridded, smoothed, at one level. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from math import ceil

from audio.curves import gate, smooth
from audio.curves.curve import Curve, log_grid, normalised
from audio.curves.gaps import between

from ..errors import CatalogueError
from .conditions import Direction
from .curve_records import DIRECTED, CurveRecord

BAND_HZ = (300.0, 3000.0)  # two setups are set to one level here; our choice, stated with every comparison
SMOOTHING = 12.0
LOWEST_HZ = 5.0
LEAST_POINTS = 2  # of a curve
HEARD_HZ = (20.0, 20_000.0)
NEWEST = 16  # smoothed curves that are not worked out again: sentences, pictures and claims ask for the same ones
PER_OCTAVE, PER_WINDOW = 48, 4  # points of a smoothed curve: an octave at least, and to the smoothing's width


def response_of(record: CurveRecord) -> Curve:
    """The frequency response; of an impulse response, gated as its conditions say.

    Raises
    ------
    CatalogueError
        For an impedance or a distortion curve.
    """
    if record.kind not in DIRECTED:
        raise CatalogueError(f"{record.id} is {record.kind}, and no frequency response")
    stated = record.conditions
    if record.kind == "response":
        return Curve(record.hz, record.values, record.phase_deg, stated.valid_hz, between(record.hz))
    made, _ = gate.gated(record.data, record.rate_hz, stated.gate_s, stated.gate_window)
    return _valid_within(made, *stated.valid_hz)


@lru_cache(maxsize=NEWEST)
def _valid_within(curve: Curve, low_hz: float, high_hz: float) -> Curve:
    """The very curve where it is also valid by what is stated; one object for as long as it is kept."""
    low, high = curve.valid_hz
    return Curve(curve.hz, curve.level_db, curve.phase_deg, (max(low, low_hz), min(high, high_hz)))


def middle_of(curve: Curve) -> tuple[float, float] | None:
    """As much of the middle as was measured without a gap, Hz; None where nothing of it was."""
    cut = [(max(BAND_HZ[0], low), min(BAND_HZ[1], high)) for low, high in curve.parts]
    return max(((low, high) for low, high in cut if low < high), key=lambda one: one[1] / one[0], default=None)


def shown(curve: Curve, smoothing: float = 0.0, band_hz: tuple[float, float] | None = None) -> Curve:
    """A curve smoothed to 1/`smoothing` octave (0: not, at its own frequencies), and at 0 dB over a band.

    Smoothed on all that was measured, and read on a logarithmic grid afterwards; a handful of points stays as it is.
    """
    low = max(float(curve.hz[0]), LOWEST_HZ)
    if smoothing and not curve.is_few:
        made = _smoothed(curve, smoothing, low)
    else:
        seen = curve.hz >= low
        made = Curve(curve.hz[seen], curve.level_db[seen], None, curve.valid_hz, curve.gaps_hz)
    return normalised(made, *band_hz) if band_hz else made


@lru_cache(maxsize=NEWEST)
def _smoothed(curve: Curve, smoothing: float, low_hz: float) -> Curve:
    """The very curve smoothed, and read on a grid from there on; the newest few are kept, read-only."""
    per_octave = max(PER_OCTAVE, ceil(PER_WINDOW * smoothing))
    made = smooth.smoothed(curve, smoothing, log_grid(low_hz, float(curve.hz[-1]), per_octave))
    for numbers in (made.hz, made.level_db):
        numbers.flags.writeable = False
    return made


def shown_set(directions: Mapping[Direction, CurveRecord], smoothing: float = 0.0) -> dict[tuple[str, float], Curve]:
    """The responses of a set of directions."""
    return {direction: shown(response_of(record), smoothing) for direction, record in directions.items()}


def gridded(curve: Curve) -> Curve:
    """A curve read on a logarithmic grid: for maps, and for what weighs every octave alike."""
    hz = log_grid(max(float(curve.hz[0]), LOWEST_HZ), float(curve.hz[-1]), PER_OCTAVE)
    return Curve(hz, curve.at(hz), None, curve.valid_hz, curve.gaps_hz)


def only_valid(curve: Curve) -> Curve:
    """What is valid of a curve.

    Raises
    ------
    CatalogueError
        If that is nothing.
    """
    seen = curve.valid()
    if seen.sum() < LEAST_POINTS:
        raise CatalogueError(f"nothing of this is valid between {curve.hz[0]:.0f} and {curve.hz[-1]:.0f} Hz")
    phase = None if curve.phase_deg is None else curve.phase_deg[seen]
    return Curve(curve.hz[seen], curve.level_db[seen], phase, curve.valid_hz, curve.gaps_hz)


def points(curve: Curve) -> dict[str, list[float]]:
    """A curve as plain numbers: all its points within what is valid and can be heard."""
    seen = curve.valid() & (curve.hz >= HEARD_HZ[0]) & (curve.hz <= HEARD_HZ[1])
    return {
        "hz": [round(float(v), 4) for v in curve.hz[seen]],
        "db": [round(float(v), 3) for v in curve.level_db[seen]],
    }
