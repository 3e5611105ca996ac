"""What is not valid, hatched: beyond a band, and over gaps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from . import gaps
from .curve import Curve
from .palette import HATCH

HEARD_HZ = (20.0, 20_000.0)
NARROWEST = 2 ** (1 / 24)  # a narrower band, as a grid leaves at its end, would not be seen as hatched


def hatched(axes: Any, curves: Sequence[Curve]) -> None:
    """Hatch what is not valid for all of the curves."""
    low = max((curve.band[0] for curve in curves), default=20.0)
    high = min((curve.band[1] for curve in curves), default=20_000.0)
    hatched_beyond(axes, (low, high), gaps.joined(*(curve.gaps_hz for curve in curves)))


def hatched_beyond(axes: Any, band_hz: tuple[float, float], over: gaps.Bands = ()) -> None:
    """Hatch what lies beyond a band, and its gaps."""
    for start, end in ((20.0, band_hz[0]), *over, (band_hz[1], 20_000.0)):
        start, end = max(start, HEARD_HZ[0]), min(end, HEARD_HZ[1])
        if end > start * NARROWEST:
            axes.axvspan(start, end, facecolor="none", edgecolor=HATCH, hatch="////", lw=0, zorder=0)
