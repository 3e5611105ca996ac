"""Band levels over time: the coarse picture of music by which passages are chosen and recordings recognised. Pure."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .clip import Clip, not_finite
from .errors import MeasureError

FLOOR = 1e-14  # power below which all is silence (−140 dB)


def band_powers(clip: Clip, edges_hz: Sequence[float], hop_s: float, window_s: float) -> NDArray[np.float64]:
    """The power in each band over time, all channels together; shape (steps, bands).

    Parameters
    ----------
    edges_hz
        Band edges, rising; bands + 1 of them. A band beyond half the rate has no power.
    hop_s, window_s
        Step and length of the Hann windows; a step is centred on its window. Each step starts at the frame nearest to
        its own time, so that recordings of unlike rates stay in step however long they are.

    Raises
    ------
    MeasureError
        If a sample is not finite.
    """
    if not_finite(clip.samples) is not None:
        raise MeasureError("a recording holds samples that are not numbers; export the file again")
    hop, window = hop_s * clip.rate_hz, round(window_s * clip.rate_hz)
    steps = max(1, int((clip.frames - window) / hop) + 1)
    taper = np.hanning(window)[:, None]
    bins = np.searchsorted(np.fft.rfftfreq(window, 1 / clip.rate_hz), np.asarray(edges_hz))
    powers = np.empty((steps, len(edges_hz) - 1))
    for step in range(steps):
        start = round(step * hop)
        stretch = clip.samples[start : start + window]
        if stretch.shape[0] < window:
            stretch = np.pad(stretch, ((0, window - stretch.shape[0]), (0, 0)))
        power = np.sum(np.square(np.abs(np.fft.rfft(stretch * taper, axis=0))), axis=1) / window**2
        totals = np.concatenate([[0.0], np.cumsum(power)])
        powers[step] = totals[bins[1:]] - totals[bins[:-1]]
    return np.maximum(powers, FLOOR)
