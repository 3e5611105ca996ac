"""The numbers behind each figure, as plain values."""

from __future__ import annotations

from typing import Any

import numpy as np

from audio.curves import angles, decay, gate, phase

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import comparison, curve_records
from .comparison import Compared
from .drawing import LONGEST_DECAY_S


def numbers(
    casebook: Casebook, setup: Setup, what: str, *, smoothing: float, compared: Compared | None
) -> dict[str, Any]:
    """What a figure shows, in numbers.

    Raises
    ------
    CatalogueError
        If what it needs was not measured.
    """
    if what in ("response", "difference") and compared is not None:
        return compared.to_document() | {
            name: comparison.numbers(curve) for name, curve in zip(compared.names, compared.curves, strict=True)
        }
    if what == "impedance":
        held = curve_records.impedance_of(casebook, setup)
        return {} if held is None else _columns(held.data, ("hz", "ohm", "phase_deg"))
    if what == "distortion":
        found = curve_records.distortion_of(casebook, setup)
        return {f"harmonic {order}": _columns(kept.data, ("hz", "db")) for order, kept in sorted(found.items())}
    directions = curve_records.by_angle(casebook, setup)
    axis = directions.get(angles.ON_AXIS)
    if axis is None:
        return {}
    if what == "response":
        return comparison.numbers(comparison.prepared(axis.curve(), smoothing, None))
    if what in ("horizontal", "vertical", "polar"):
        plane = "vertical" if what == "vertical" else "horizontal"
        known = angles.completed(comparison.set_of(directions, smoothing))
        return {str(angle): comparison.numbers(curve) for (own, angle), curve in sorted(known.items()) if own == plane}
    if what == "directivity":
        return comparison.directed(directions)
    return _of_axis(axis, what)


def _of_axis(axis: curve_records.Kept, what: str) -> dict[str, Any]:
    made = axis.curve()
    if what == "delay":
        return _columns(np.stack([made.hz, 1000 * phase.group_delay_s(made)], axis=1), ("hz", "ms"))
    if what == "phase":
        least = phase.minimum_phase_of(made)
        columns = np.stack([made.hz, phase.measured_phase(made), least], axis=1)
        return _columns(columns, ("hz", "measured_deg", "minimum_deg"))
    if axis.kind != "impulse":
        raise CatalogueError(f"{what} follows from an impulse response; add one as WAV")
    if what == "step":
        begin = gate.onset(axis.data)
        steps = phase.step_response(axis.data)[max(0, begin - 48) : begin + axis.rate_hz // 100]
        return {"rate_hz": axis.rate_hz, "from_onset_frames": -min(begin, 48), "amplitude": _rounded(steps, 5)}
    length = min((axis.conditions.gate_ms or 5.0) / 1000, LONGEST_DECAY_S)
    found = (
        decay.burst(axis.data, axis.rate_hz) if what == "burst" else decay.cumulative(axis.data, axis.rate_hz, length)
    )
    return {
        "unit": found.unit,
        "hz": _rounded(found.hz, 2),
        "steps": _rounded(found.steps, 6),
        "valid_from_hz": _rounded(found.valid_from_hz, 2),
        "level_db": [_rounded(row, 2) for row in found.level_db],
    }


def _columns(data: np.ndarray, names: tuple[str, ...]) -> dict[str, list[float]]:
    return {name: _rounded(data[:, place], 4) for place, name in enumerate(names[: data.shape[1]])}


def _rounded(values: np.ndarray, places: int) -> list[float]:
    return [round(float(value), places) for value in values]
