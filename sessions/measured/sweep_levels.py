"""Whether the sweep that stands for the axis is a loud one of several taken alike: it may be compressed. Pure."""

from __future__ import annotations

from math import log10

from .curve_records import SetupCurves
from .repeats import alike


def louder_of(measured: SetupCurves) -> str:
    """That the sweep on axis is louder than others taken alike, and which is the quietest; empty where it is not."""
    axis = measured.on_axis
    if axis is None or axis.conditions.taken is None:
        return ""
    series = [
        (20 * log10(one.conditions.taken.sweep.amplitude), one.id)
        for one in measured.all_on_axis
        if one.conditions.taken is not None and alike(one, axis, but_for_level=True)
    ]
    own = round(20 * log10(axis.conditions.taken.sweep.amplitude), 1)
    levels = sorted({round(level, 1) for level, _ in series})
    if not levels or own <= levels[0]:
        return ""
    quietest = [name for level, name in series if round(level, 1) == levels[0]][-1]
    place = "the loudest" if own == levels[-1] else "a loud one"
    return (
        f"{axis.id} ({own:g} dBFS) is {place} of {len(levels)} levels swept alike and may be compressed (--what "
        f"compression); the quietest is {quietest} ({levels[0]:g} dBFS)"
    )
