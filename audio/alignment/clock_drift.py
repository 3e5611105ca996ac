"""How far one recording's clock drifts from another's, found with the delay, where the drift smears every delay. Pure.

The whitened correlations of many short windows are laid over one another, each shifted by what a clock so far off
would have gathered by then; the drift at which they pile up highest is the one. A pitch repeats itself in each window,
but not at the same drift in all.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from .delay import band, lag_series, whitened

WINDOW_S = 0.5
FEWEST_WINDOWS = 4
BEYOND = 1.2  # sought a little beyond the most that is asked for, so that it can be said
PITCHES_S = 0.06  # a delay may first be taken for one some periods of a voice away
LAG_S = 1 / 32_000  # the correlations' grid: four places and more a period at the band's upper end
STEP_S = 1e-4  # from one drift to the next, over the whole passage: less than half a period


@dataclass(frozen=True)
class Drift:
    """How a clock runs against another, with the delay.

    Attributes
    ----------
    ppm
        Its error in parts per million; positive: it runs fast.
    start_s
        The delay at the passage's start, in seconds.
    ppm_unsure, unsure_s
        The uncertainty of the clock, and of the delay in mid-passage, at about 95 %; not finite where unknown.
    agree
        The share of all windows whose delays lie on this line; 0 where they were not asked.
    """

    ppm: float
    start_s: float
    ppm_unsure: float = inf
    unsure_s: float = inf
    agree: float = 0.0


def drift(
    reference: NDArray[np.float64], other: NDArray[np.float64], rate_hz: int, near_s: float, most_ppm: float
) -> Drift | None:
    """The drift and delay of one signal (frames,) against another; None if too short.

    Parameters
    ----------
    near_s
        Where the delay is sought, in seconds.
    most_ppm
        Up to which drift it is sought, either way, in parts per million.
    """
    length_s = reference.size / rate_hz
    reach_s = BEYOND * most_ppm * 1e-6 * length_s + PITCHES_S
    window, margin, shift = round(WINDOW_S * rate_hz), round(reach_s * rate_hz), round(near_s * rate_hz)
    room = np.pad(other, margin + abs(shift) + window)
    piled: list[NDArray[np.float64]] = []
    times: list[float] = []
    for start in range(0, reference.size - window + 1, window):
        begin = start + shift + abs(shift) + window  # less the margin, which is also in front of the padding
        series = _correlation(reference[start : start + window], room[begin : begin + window + 2 * margin], rate_hz)
        if series is not None:
            piled.append(series)
            times.append((start + window / 2) / rate_hz)
    if len(piled) < FEWEST_WINDOWS:
        return None
    middle_s = float(np.mean(times))
    lags, apart = np.array(piled), np.array(times) - middle_s
    best, height = (0.0, 0), -1.0
    steps = int(np.ceil(BEYOND * most_ppm * 1e-6 * length_s / STEP_S))
    for slope in np.arange(-steps, steps + 1) * STEP_S / length_s:
        moved = np.rint(slope * apart / LAG_S).astype(int)
        pile = sum(np.roll(series, -by) for series, by in zip(lags, moved, strict=True))
        at = int(np.argmax(np.abs(pile)))
        if abs(pile[at]) > height:
            best, height = (float(slope), at), float(abs(pile[at]))
    slope, at = best
    late_s = shift / rate_hz - margin / rate_hz + at * LAG_S  # in the middle of the windows
    return Drift(1e6 * slope, late_s - slope * middle_s)


def _correlation(part: NDArray[np.float64], stretch: NDArray[np.float64], rate_hz: int) -> NDArray[np.float64] | None:
    """The whitened correlation of a window with a longer stretch, at lags from the stretch's start on the grid."""
    size = 1 << (part.size + stretch.size - 1).bit_length()
    known = band(part[:, None], rate_hz, size)
    white = whitened(known, 0, band(stretch[:, None], rate_hz, size), 0)
    if white is None:
        return None
    dense = round(size / rate_hz / LAG_S)
    count = round((stretch.size - part.size) / rate_hz / LAG_S)
    return lag_series(white, known, dense)[:count] * dense
