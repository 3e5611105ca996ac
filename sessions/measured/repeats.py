"""Which curves are repeats: measured again alike, in the same room, on the same axis, at the same distance. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from .curve_records import CurveRecord


def repeats_of(record: CurveRecord, others: Sequence[CurveRecord]) -> list[CurveRecord]:
    """The curve with those of its setup that repeat it, in their order: measured alike, and not from the same reading.

    A file that was brought in twice, or the same numbers in another file, is one reading and no repeat.
    """
    found: list[CurveRecord] = []
    for one in [record, *reversed(others)]:
        if alike(one, record) and not any(same_reading(one, there) for there in found):
            found.append(one)
    return found[::-1]


def alike(one: CurveRecord, other: CurveRecord, *, but_for_level: bool = False) -> bool:
    """Whether two curves were measured alike: of one setup, in one direction, place and manner.

    Parameters
    ----------
    but_for_level
        The drive may differ.
    """
    return _how(one, but_for_level) == _how(other, but_for_level)


def same_reading(one: CurveRecord, other: CurveRecord) -> bool:
    """Whether two curves came from one file, or hold the same numbers."""
    return one.measurement_id == other.measurement_id or np.array_equal(one.data, other.data)


def _how(record: CurveRecord, but_for_level: bool) -> tuple[Any, ...]:
    """All that repeats have in common; who, when and why may differ, and so may the noise."""
    own = record.conditions
    taken = own.taken
    swept = None
    if taken is not None:
        played = replace(taken.sweep, amplitude=0.0) if but_for_level else taken.sweep
        swept = (played, taken.source_height_m, taken.microphone_height_m)
    return (
        record.setup_id,
        record.kind,
        record.direction,
        own.room,
        own.axis,
        own.distance_m,
        None if but_for_level else own.drive_volts,
        own.gate_ms,
        own.gate_window if own.gate_ms else "",
        own.smoothing,
        own.spl,
        own.calibration,
        own.member,
        swept,
        record.rate_hz,
    )
