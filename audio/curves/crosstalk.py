"""Crosstalk by a sweep: what the other channel gives of the one that plays, relative to that one. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from . import gate, noise_floor
from .curve import Curve, Numbers
from .gate import Window
from .sweep import Sweep, whole_response
from .take import Layout, silences

WINDOW_S = 0.1  # electronics ring for less; the longer the window, the more noise it holds
WINDOW: Window = "half-tukey"


@dataclass(frozen=True, eq=False)
class Crosstalk:
    """The other channel's level relative to the one that plays, dB, and what its noise alone would show."""

    curve: Curve
    floor: Curve


def crosstalk(layout: Layout, made: Sweep, own: Numbers, other: Numbers, arrival: int) -> Crosstalk:
    """What the other channel gives, from the recordings of both, shape (frames,) each, from the take's first frame.

    Parameters
    ----------
    made
        The sweep as the recorder's clock heard it.
    arrival
        When the channel that plays is heard, frames.

    Raises
    ------
    MeasureError
        If the other channel is silent to the last bit.
    """
    rate = made.rate_hz
    frames, lead = round(WINDOW_S * rate), round(gate.LEAD_S * rate)
    shape = gate.shape(frames, lead, WINDOW)
    hz = gate.lines(rate, len(shape))
    own_db, other_db = (_spectrum_db(layout, made, heard, arrival, lead, shape, len(hz)) for heard in (own, other))
    valid = (max(made.low_hz, 1 / WINDOW_S), made.high_hz)
    noise = noise_floor.silence(silences(layout, other, arrival), rate)
    floor = noise_floor.of_response(noise, made, layout.averages, WINDOW_S, WINDOW)
    level = Curve(hz[1:-1], other_db[1:-1] - own_db[1:-1], None, valid)
    return Crosstalk(level, replace(floor, level_db=floor.level_db - own_db[1:-1]))


def _spectrum_db(
    layout: Layout, made: Sweep, heard: Numbers, arrival: int, lead: int, shape: Numbers, lines: int
) -> Numbers:
    """The level of what arrives with the channel that plays, of the mean of all averages."""
    length = layout.sweep_frames + arrival + len(shape)
    mean = np.mean([heard[start : start + length] for start in layout.starts], axis=0)
    cut = np.roll(whole_response(made, mean), lead - arrival)[: len(shape)] * shape
    return np.asarray(20 * np.log10(np.maximum(np.abs(np.fft.rfft(cut, 2 * (lines - 1))), 1e-12)))
