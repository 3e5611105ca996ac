"""Putting curves together: a nearfield bass onto a gated far field, and a left against a right loudspeaker. Pure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import MeasureError
from . import gaps
from .curve import Curve, difference, log_grid, mean_level
from .gaps import Bands

WIDTH_OCTAVES = 1.0  # over which one curve passes into the other


@dataclass(frozen=True)
class Splice:
    """A spliced curve and the rule it was made by: where, over how many octaves, and by how much the bass was moved."""

    curve: Curve
    at_hz: float
    octaves: float
    moved_db: float


def spliced(near: Curve, far: Curve, at_hz: float, octaves: float = WIDTH_OCTAVES) -> Splice:
    """The nearfield curve below `at_hz` and the far one above, the nearfield moved to the far one's level there.

    The level rule: both have the same power mean over the octaves around `at_hz`; between the ends of that band the
    levels in dB are faded into each other along log f. Gaps of each stay gaps where it counts.

    Raises
    ------
    MeasureError
        If one of them is not valid over the band, or has a gap in it.
    """
    low, high = at_hz * 2 ** (-octaves / 2), at_hz * 2 ** (octaves / 2)
    moved = mean_level(far, low, high) - mean_level(near, low, high)
    hz = log_grid(max(float(near.hz[0]), 5.0), float(far.hz[-1]))
    share = np.clip(np.log2(hz / low) / octaves, 0, 1)
    bass = np.where(hz <= near.hz[-1], near.at(np.minimum(hz, near.hz[-1])) + moved, 0.0)
    top = np.where(hz >= far.hz[0], far.at(np.maximum(hz, far.hz[0])), 0.0)
    level = np.where(share <= 0, bass, np.where(share >= 1, top, (1 - share) * bass + share * top))
    over = gaps.joined(_cut(near.gaps_hz, 0.0, high), _cut(far.gaps_hz, low, float(far.hz[-1])))
    return Splice(Curve(hz, level, None, (near.band[0], far.band[1]), over), at_hz, octaves, moved)


def _cut(found: Bands, low_hz: float, high_hz: float) -> Bands:
    """The gaps as far as they lie within a band."""
    cut = ((max(low, low_hz), min(high, high_hz)) for low, high in found)
    return tuple((low, high) for low, high in cut if low < high)


def pair_match(left: Curve, right: Curve, low_hz: float = 100.0, high_hz: float = 10_000.0) -> tuple[float, float]:
    """How a pair agrees over a band: mean difference (left less right), and the largest departure from it, dB.

    Of what both have measured validly there.

    Raises
    ------
    MeasureError
        If that is next to nothing.
    """
    apart = difference(left, right)
    inside = (apart.hz >= low_hz) & (apart.hz <= high_hz) & apart.valid()
    if inside.sum() < 2:
        raise MeasureError("the two curves share too little of the band to be compared")
    level = apart.level_db[inside]
    mean = float(level.mean())
    return mean, float(np.abs(level - mean).max())
