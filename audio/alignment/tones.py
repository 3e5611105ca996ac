"""Whether music is nothing but a few steady tones: each period fits as well, and no delay can be told by it. Pure.

A filter that turns a tone's phase delays it as well, so that a delay told by single tones is the filter's as likely.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .delay import BAND_HZ

BELOW_DB = 40.0  # a line so far below the strongest says nothing
FEWEST_HZ = 35.0  # of the middle band must sound in some seconds: a sine of 1 s fills up to 31, two held chords 36
WINDOW_S = 2.0
SOUNDING_DB = -20.0  # of the loudest window


def only_tones(samples: NDArray[np.float64], rate_hz: int) -> bool:
    """Whether at least half of what sounds in a signal (frames,) is single tones, taken by windows of `WINDOW_S`."""
    window = min(round(WINDOW_S * rate_hz), samples.size)
    parts = [samples[start : start + window] for start in range(0, samples.size - window + 1, max(window, 1))]
    loud = np.array([float(np.sum(np.square(part))) for part in parts])
    sounding = [
        part
        for part, power in zip(parts, loud, strict=True)
        if power > 10 ** (SOUNDING_DB / 10) * loud.max(initial=0.0)
    ]
    return bool(sounding) and sum(_steady(part, rate_hz) for part in sounding) >= len(sounding) / 2


def _steady(samples: NDArray[np.float64], rate_hz: int) -> bool:
    """Whether less than `FEWEST_HZ` of the middle band sounds."""
    power = np.square(np.abs(np.fft.rfft(samples * np.hanning(samples.size))))
    freqs = np.fft.rfftfreq(samples.size, 1 / rate_hz)
    power = power[(freqs >= BAND_HZ[0]) & (freqs <= BAND_HZ[1])]
    strong = np.sum(power > 10 ** (-BELOW_DB / 10) * power.max(initial=0.0))
    return float(strong) * rate_hz / samples.size < FEWEST_HZ
