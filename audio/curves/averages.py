"""The mean of several curves with their spread: as powers for places in a room, in dB for seatings. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import MeasureError
from .curve import Curve, Numbers, power_mean


@dataclass(frozen=True, eq=False)
class Averaged:
    """A mean, and how far the curves behind it spread.

    `spread_db` is their standard deviation in dB at each of the mean's frequencies (n − 1), shape (n,); `lowest` and
    `highest` are the least and the most of them there.
    """

    mean: Curve
    spread_db: Numbers
    lowest: Numbers
    highest: Numbers

    def around(self) -> tuple[Numbers, Numbers]:
        """The mean less and plus one standard deviation."""
        return self.mean.level_db - self.spread_db, self.mean.level_db + self.spread_db


def energy_mean(curves: Sequence[Curve]) -> Averaged:
    """The mean of the powers, as sound in a room adds up over places.

    Raises
    ------
    MeasureError
        If they are fewer than two, or share too little.
    """
    return _with_spread(curves, power_mean(list(curves)) if curves else None)


def level_mean(curves: Sequence[Curve]) -> Averaged:
    """The mean of the levels in dB, as for headphones seated again and again: no seating weighs more for being loud.

    Raises
    ------
    MeasureError
        If they are fewer than two, or share too little.
    """
    if not curves:
        return _with_spread(curves, None)
    made = power_mean(list(curves))  # its frequencies and its valid band
    level = np.mean([curve.at(made.hz) for curve in curves], axis=0)
    return _with_spread(curves, Curve(made.hz, level, None, made.valid_hz))


def _with_spread(curves: Sequence[Curve], mean: Curve | None) -> Averaged:
    if mean is None or len(curves) < 2:
        raise MeasureError("a mean with its spread needs at least two curves")
    levels = np.array([curve.at(mean.hz) for curve in curves])
    return Averaged(mean, levels.std(axis=0, ddof=1), levels.min(axis=0), levels.max(axis=0))
