"""Sensitivity: the level at one metre for 2.83 V, or for one watt into a stated impedance. Pure."""

from __future__ import annotations

from math import log10

from ..errors import MeasureError

VOLTS = 2.83


def at_283_v_1_m(level_db_spl: float, volts: float, distance_m: float) -> float:
    """A level measured at some voltage and distance, at 2.83 V and 1 m (free field: 6 dB for each doubling).

    Raises
    ------
    MeasureError
        If voltage or distance are not above 0.

    >>> round(at_283_v_1_m(79.0, 1.0, 2.0), 2)
    94.06
    """
    if volts <= 0 or distance_m <= 0:
        raise MeasureError("a sensitivity needs the drive voltage and the distance, both above 0")
    return level_db_spl + 20 * log10(VOLTS / volts) + 20 * log10(distance_m)


def at_one_watt(level_283_db: float, ohm: float) -> float:
    """The level at 2.83 V as that at one watt into `ohm`: L − 10·log10(2.83²/Z).

    >>> round(at_one_watt(88.0, 4.0), 1)
    85.0

    So 88 dB for 2.83 V into 4 ohm is 85 dB for one watt: 2.83 V are two watts there.
    """
    if ohm <= 0:
        raise MeasureError("a rated impedance is above 0 ohm")
    return level_283_db - 10 * log10(VOLTS**2 / ohm)
