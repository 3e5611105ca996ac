"""Pink noise for reading levels: what it is, how long it must last, how far a reading of it may stray. Pure.

The noise is made in the spectrum: the power of every line falls as 1/f inside the band and is nothing outside, only the
phases are random. They follow from a name by SHA-3, so the same name gives the same noise everywhere. A stretch of it
that is read whole has exactly the power it was made with.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FULL_HZ = (20.0, 20_000.0)
BAND_HZ = (500.0, 2000.0)  # EBU Tech 3343 (2023), 8.2: the band that sets a listening level
DECIBELS_PER_NEPER = 10 / np.log(10)  # 4.343: a small relative change of power in dB
TWO_SIDED_95 = 1.959964  # standard normal quantile

Signal = NDArray[np.float64]


@dataclass(frozen=True)
class Noise:
    """A stretch of noise, shape (frames,), at 0 dB RMS; `crest_db` is its peak above that."""

    samples: Signal
    rate_hz: int
    band_hz: tuple[float, float]
    crest_db: float


def pink(band_hz: tuple[float, float], frames: int, rate_hz: int, name: str = "earwitness") -> Noise:
    """Pink noise between two frequencies, RMS 1.0, the same for the same name.

    Raises
    ------
    ValueError
        If the band does not fit below half the rate, or holds no line of so short a stretch.
    """
    freqs = np.fft.rfftfreq(frames, 1 / rate_hz)
    high = min(band_hz[1], 0.49 * rate_hz)
    inside = (freqs >= band_hz[0]) & (freqs <= high)
    if not inside.any():
        raise ValueError(f"{frames} frames at {rate_hz} Hz hold no noise between {band_hz[0]:g} and {high:g} Hz")
    spectrum = np.zeros(freqs.size, dtype=np.complex128)
    spectrum[inside] = np.exp(2j * np.pi * _turns(name, int(inside.sum()))) / np.sqrt(freqs[inside])
    samples = np.fft.irfft(spectrum, frames)
    samples /= np.sqrt(np.mean(np.square(samples)))
    crest_db = 20 * float(np.log10(np.abs(samples).max()))
    return Noise(samples, rate_hz, (band_hz[0], high), crest_db)


def effective_bandwidth_hz(freqs_hz: Signal, density: Signal) -> float:
    """The bandwidth that counts for the spread of a level, (∫S df)² / ∫S² df, for a density on an even grid.

    Source: Bendat and Piersol, Random Data (from memory): the relative spread of a mean square over T seconds is
    1/√(B·T) with this B.
    """
    step = float(freqs_hz[1] - freqs_hz[0])
    return float(np.sum(density)) ** 2 * step / float(np.sum(np.square(density)))


def pink_bandwidth_hz(band_hz: tuple[float, float]) -> float:
    """The effective bandwidth of pink noise between two frequencies: ln(f2/f1)² / (1/f1 − 1/f2).

    Examples
    --------
    >>> round(pink_bandwidth_hz((500, 2000))), round(pink_bandwidth_hz((20, 20000)))
    (1281, 955)

    So a reading of pink noise over the whole range strays as if it were less than 1 kHz wide: its power lies low.
    """
    low, high = band_hz
    return float(np.log(high / low) ** 2 / (1 / low - 1 / high))


def spread_db(bandwidth_hz: float, length_s: float) -> float:
    """The standard deviation of a level read from random noise of this bandwidth over this time: 4.343/√(B·T) dB."""
    return float(DECIBELS_PER_NEPER / np.sqrt(bandwidth_hz * length_s))


def length_s(repeatability_db: float, bandwidth_hz: float) -> float:
    """How long noise must be read so that 95 % of the readings lie within ± `repeatability_db`.

    Examples
    --------
    >>> round(length_s(0.1, 1281), 1)
    5.7

    So 500 to 2000 Hz needs 5.7 s for a tenth of a decibel. Reading the very same stretch each time, as the match does,
    takes this term away from differences; it is kept as the length, since the room and the setups colour the noise.
    """
    return float((TWO_SIDED_95 * DECIBELS_PER_NEPER / repeatability_db) ** 2 / bandwidth_hz)


def _turns(name: str, count: int) -> Signal:
    """Phases in whole turns, 0 to 1, from a name."""
    raw = hashlib.shake_256(name.encode()).digest(8 * count)
    return np.frombuffer(raw, dtype="<u8").astype(np.float64) / 2.0**64
