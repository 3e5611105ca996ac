"""Whether the levels of curves can be set against each other as they stand: they share a calibration, or not. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .curve_records import CurveRecord


@dataclass(frozen=True)
class SharedLevel:
    """Whether levels are absolute against each other, and why, in words."""

    absolute: bool
    unit: str
    words: str


def shared_level(records: Sequence[CurveRecord], stated: bool) -> SharedLevel:
    """Whether these curves share a calibration: all in dB SPL for one stated drive and distance, or it is said.

    Parameters
    ----------
    stated
        Somebody says that they were taken with one microphone, gain and drive.
    """
    own = [record.conditions for record in records]
    ways = {(one.distance_m, one.drive_volts) for one in own}
    known = all(one.distance_m is not None and one.drive_volts is not None for one in own)
    if all(one.spl for one in own) and known and len(ways) == 1:
        return SharedLevel(True, "dB SPL", "levels are absolute: all in dB SPL for one drive at one distance")
    if stated and len({one.spl for one in own}) == 1:
        return SharedLevel(True, "dB", "levels are absolute: stated to share microphone, gain, drive and distance")
    lacks = "distance or drive differ" if known else "not each states its drive and its distance"
    lacks = lacks if all(one.spl for one in own) else "not all are in dB SPL"
    return SharedLevel(False, "dB", f"the curves share no calibration ({lacks})")
