"""From a kept curve to a frequency response, and the response as it is shown: gridded, smoothed, at one level. Pure."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from audio.curves import gate, smooth
from audio.curves.curve import Curve, log_grid, normalised

from ..errors import CatalogueError
from .conditions import Direction
from .curve_records import DIRECTED, CurveRecord

BAND_HZ = (300.0, 3000.0)  # two setups are set to one level here; our choice, stated with every comparison
SMOOTHING = 12.0
LOWEST_HZ = 5.0


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
        return Curve(record.hz, record.values, record.phase_deg, stated.valid_hz)
    made, _ = gate.gated(record.data, record.rate_hz, stated.gate_s, stated.gate_window)
    (low, high), own = made.valid_hz, stated.valid_hz
    return Curve(made.hz, made.level_db, made.phase_deg, (max(low, own[0]), min(high, own[1])))


def shown(curve: Curve, smoothing: float = 0.0, band_hz: tuple[float, float] | None = None) -> Curve:
    """A curve on a logarithmic grid, smoothed to 1/`smoothing` octave (0 for none), and at 0 dB over a band."""
    hz = log_grid(max(float(curve.hz[0]), LOWEST_HZ), float(curve.hz[-1]))
    made = Curve(hz, curve.at(hz), None, curve.valid_hz)
    if smoothing:
        made = smooth.smoothed(made, smoothing)
    return normalised(made, *band_hz) if band_hz else made


def shown_set(directions: Mapping[Direction, CurveRecord], smoothing: float = 0.0) -> dict[tuple[str, float], Curve]:
    """The responses of a set of directions, all on one grid."""
    return {direction: shown(response_of(record), smoothing) for direction, record in directions.items()}


def points(curve: Curve, per_octave: int = 12) -> dict[str, list[float]]:
    """A curve as plain numbers, within what is valid."""
    low, high = curve.band
    hz = log_grid(max(low, 20.0), min(high, 20_000.0), per_octave) if high > low else np.array([])
    return {"hz": [round(float(v), 2) for v in hz], "db": [round(float(v), 3) for v in curve.at(hz)]}
