"""Which curves are repeats: measured again alike, in the same room, on the same axis, at the same distance. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from .curve_records import CurveRecord


def repeats_of(record: CurveRecord, others: Sequence[CurveRecord]) -> list[CurveRecord]:
    """The curve with those of its setup that repeat it, in their order: measured alike, and not from the same reading.

    A file that was brought in twice, or the same numbers in another file, is one reading and no repeat.
    """
    found: list[CurveRecord] = []
    for one in [record, *reversed(others)]:
        alike = one.setup_id == record.setup_id and one.kind == record.kind and one.direction == record.direction
        if alike and _how(one) == _how(record) and not any(_same_reading(one, there) for there in found):
            found.append(one)
    return found[::-1]


def _how(record: CurveRecord) -> tuple[Any, ...]:
    """All that repeats have in common; who, when and why may differ, and so may the noise."""
    own = record.conditions
    taken = own.taken
    swept = (taken.sweep, taken.source_height_m, taken.microphone_height_m) if taken else None
    return (
        own.room,
        own.axis,
        own.distance_m,
        own.drive_volts,
        own.gate_ms,
        own.gate_window if own.gate_ms else "",
        own.smoothing,
        own.spl,
        own.calibration,
        own.member,
        swept,
        record.rate_hz,
    )


def _same_reading(one: CurveRecord, other: CurveRecord) -> bool:
    return one.measurement_id == other.measurement_id or np.array_equal(one.data, other.data)
