"""A curve's response with its phase on a time scale that curves share, so that they can be added. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from audio.curves import gate
from audio.curves.curve import Curve
from audio.curves.sweep import PRE_DELAY_S

from .curve_records import CurveRecord
from .frequency_response import response_of

HOW = "from complex data, times as recorded"


def timed_responses(records: Sequence[CurveRecord]) -> list[Curve]:
    """The responses with phase; of impulse responses counted from one moment, that of the earliest onset.

    An impulse response that was brought in counts from its first sample, a sweep taken here from its first sample
    played: both say true only where the way there and back took equally long each time. Phases in columns stand as
    they are.
    """
    starts = [_start_s(record) for record in records]
    zero = min((start for start in starts if start is not None), default=0.0)
    made = [response_of(record) for record in records]
    return [
        curve
        if start is None or curve.phase_deg is None
        else replace(curve, phase_deg=curve.phase_deg - 360 * curve.hz * (start - zero))
        for curve, start in zip(made, starts, strict=True)
    ]


def _start_s(record: CurveRecord) -> float | None:
    """When an impulse response begins to sound, s; None for columns."""
    if record.kind != "impulse":
        return None
    begin = gate.onset(record.data, record.rate_hz) / record.rate_hz
    taken = record.conditions.taken
    if taken is None:
        return begin
    arrival = round(taken.arrival_ms * record.rate_hz / 1000)
    return begin + (arrival - round(PRE_DELAY_S * record.rate_hz)) / record.rate_hz
