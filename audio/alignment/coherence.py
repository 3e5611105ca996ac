"""Whether two recordings hold the same performance at the same place, whatever lies between them that stays. Pure.

Loudspeakers, rooms and equalisers turn and weigh each frequency by something that stays the same throughout; another
take, or another place in the music, turns it otherwise in each moment. So the phase between the two is compared with
itself, at each frequency, at moments far enough apart that no note lasts from one to the other: what stays cancels
out, and what has nothing to do with one another comes to 0, however steady its tones.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Lines = NDArray[np.complex128]
Signal = NDArray[np.float64]

SAME = 0.5  # from here on it is the same performance; what lies on either side: tests/benchmarks/alignment.py
WINDOW_S = 0.5  # holds the decay of a room, so that the room stays within its window
FEWEST = 5  # of them, end to end, in a short recording
BAND_HZ = (200.0, 5000.0)
APART_S = 2.0
LEAST_APART = 0.2  # of a recording too short for that
AUDIBLE_DB = 40.0  # a frequency so far below the strongest does not count, between them by so much; it may be noise


def window_for(length_s: float) -> float:
    """The window, in seconds, for a recording so long: shorter where it would hold too few of them."""
    return min(WINDOW_S, length_s / FEWEST)


def coherence(reference: Signal, other: Signal, rate_hz: int) -> float:
    """How far the phase between two signals (frames,), brought into step, stays: 1 throughout, about 0 not at all.

    Below 0 it may come by chance. 0 where they are too short or one is silent.
    """
    frames = min(reference.size, other.size)
    length_s = frames / rate_hz
    window_s = window_for(length_s)
    across = moments(other[:frames], rate_hz, window_s) * np.conj(moments(reference[:frames], rate_hz, window_s))
    apart_s = min(APART_S, LEAST_APART * length_s)
    return steadiness(across, max(2, round(apart_s / (window_s / 2))))


def moments(samples: Signal, rate_hz: int, window_s: float) -> Lines:
    """The spectra in the band of half overlapping windows of one signal (frames,); shape (moments, lines)."""
    window = round(window_s * rate_hz)
    hop = window // 2
    count = max(0, (samples.size - window) // hop + 1)
    freqs = np.fft.rfftfreq(window, 1 / rate_hz)
    low, high = np.searchsorted(freqs, (BAND_HZ[0], min(BAND_HZ[1], 0.45 * rate_hz)))
    shape = np.hanning(window)
    found = np.empty((count, high - low), dtype=np.complex128)
    for at in range(count):
        found[at] = np.fft.rfft(samples[at * hop : at * hop + window] * shape)[low:high]
    return found


def steadiness(across: Lines, apart: int) -> float:
    """How far cross-spectra (moments, lines of the band) keep their phase between moments so many apart or more.

    Each frequency counts by its level, not by its power, and each octave alike, so that neither one loud tone nor the
    many lines of the treble decide.
    """
    if len(across) <= apart or across.shape[1] == 0:
        return 0.0
    size = np.abs(across)
    turned, whole = np.cumsum(across, axis=0)[:-apart], np.cumsum(size, axis=0)[:-apart]
    kept = np.sum(np.real(across[apart:] * np.conj(turned)), axis=0)
    most = np.sum(size[apart:] * whole, axis=0)
    total = size.sum(axis=0)
    if total.max() <= 0:
        return 0.0
    below_db = 10 * np.log10(np.maximum(total / total.max(), 1e-12))
    octaves = np.arange(across.shape[1]) + BAND_HZ[0] / (BAND_HZ[1] - BAND_HZ[0]) * across.shape[1]
    counts = np.clip(1 + below_db / AUDIBLE_DB, 0, 1) / octaves
    sounding = counts > 0
    share = counts[sounding] / np.square(total[sounding])
    held = float(np.sum(share * most[sounding]))
    return float(np.sum(share * kept[sounding])) / held if held > 0 else 0.0
