"""Drivers and their sum: where one hands over to the next, and what they give together. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import MeasureError
from .curve import Curve, Numbers, log_grid

REGION_DB = 10.0  # within it of each other both drivers count: the weaker moves the sum by 2.4 dB at most; our choice
LARGEST_STEP_DEG = 150.0  # from one frequency to the next: beyond it a phase cannot be followed


@dataclass(frozen=True)
class Crossover:
    """Where two drivers are equally loud, and between which frequencies both count, Hz."""

    at_hz: float
    from_hz: float
    to_hz: float


def crossover(lower: Curve, upper: Curve) -> Crossover | None:
    """Where the lower driver hands over to the upper one, by their levels; None where it does not.

    Of several places the loudest counts. The region around it is where both are within `REGION_DB` of each other.
    """
    low, high = max(lower.band[0], upper.band[0]), min(lower.band[1], upper.band[1])
    if not low < high:
        return None
    hz = log_grid(low, high, 96)
    own, other = lower.at(hz), upper.at(hz)
    apart = own - other
    falls = np.flatnonzero((apart[:-1] > 0) & (apart[1:] <= 0))
    if not len(falls):
        return None
    at = int(falls[np.argmax(own[falls])])
    share = apart[at] / (apart[at] - apart[at + 1])
    both = np.abs(apart) <= REGION_DB
    first = at - int(np.argmin(both[: at + 1][::-1])) + 1 if not both[: at + 1].all() else 0
    last = at + int(np.argmin(both[at + 1 :])) if not both[at + 1 :].all() else len(hz) - 1
    return Crossover(
        float(hz[at] * (hz[at + 1] / hz[at]) ** share), float(hz[min(first, at)]), float(hz[max(last, at + 1)])
    )


def summed(curves: Sequence[Curve]) -> Curve:
    """What curves with phase on one time scale give together, on their own frequencies.

    Curves on fine lines of their own are read at the frequencies of those that are not (at most one such set), or on
    the finest of their lines. Where one of them has no data it gives nothing known, so the sum ends there; valid where
    all are.

    Raises
    ------
    MeasureError
        If they are fewer than two, one has no phase, their phases cannot be brought onto one grid, or they share none.
    """
    if len(curves) < 2:
        raise MeasureError("a sum needs two drivers at least")
    hz = _grid(curves)
    total = np.sum([_complex(curve, hz) for curve in curves], axis=0)
    valid = max(curve.band[0] for curve in curves), min(curve.band[1] for curve in curves)
    level = 20 * np.log10(np.maximum(np.abs(total), 1e-12))
    return Curve(hz, level, np.degrees(np.angle(total)), valid)


def _grid(curves: Sequence[Curve]) -> Numbers:
    low, high = max(float(curve.hz[0]) for curve in curves), min(float(curve.hz[-1]) for curve in curves)
    if not low < high:
        raise MeasureError("the drivers share no frequency; measure all of them over one band")
    first = curves[0].hz
    if all(np.array_equal(curve.hz, first) for curve in curves):
        return first
    coarse = [curve.hz for curve in curves if not _even(curve.hz)]
    if any(not np.array_equal(one, coarse[0]) for one in coarse):
        raise MeasureError(
            "the phases are given on frequencies that differ, so they cannot be added; export all on one grid, or "
            "bring in impulse responses"
        )
    grid = coarse[0] if coarse else min((curve.hz for curve in curves), key=lambda hz: float(hz[1] - hz[0]))
    return grid[(grid >= low) & (grid <= high)]


def _even(hz: Numbers) -> bool:
    """Whether frequencies are the even lines of a spectrum."""
    steps = np.diff(hz)
    return bool(np.ptp(steps) <= 1e-6 * steps[0])


def _complex(curve: Curve, hz: Numbers) -> Numbers:
    if curve.phase_deg is None:
        raise MeasureError("one of the drivers has no phase, so there is no sum; bring in impulse responses, or phases")
    phase = np.degrees(np.unwrap(np.radians(curve.phase_deg)))
    if not np.array_equal(curve.hz, hz):
        if np.abs(np.diff(phase)).max() > LARGEST_STEP_DEG:
            raise MeasureError("a driver's phase turns too fast to be followed; export it on a finer grid")
        phase = np.interp(hz, curve.hz, phase)
    return np.asarray(10 ** (curve.at(hz) / 20) * np.exp(1j * np.radians(phase)))
