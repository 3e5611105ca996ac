"""How late one recording is against another, to a fraction of a sample, and with which polarity. Pure.

The cross-spectrum is whitened in the middle of the audible range, where loudspeakers are most alike in phase, so that
their differing responses hardly move the estimate; it is interpolated before its peak is fitted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip

BAND_HZ = (300.0, 4000.0)
INTERPOLATION = 16  # then the parabola's bias is below 0.0001 sample
QUIET_DB = 60.0  # spectral lines this far below the strongest carry noise, not music
LONGEST_S = 2.0


@dataclass(frozen=True)
class Delay:
    """How late the other is (seconds; negative: early), and the correlation there, −1 to 1, in the band."""

    delay_s: float
    correlation: float


def estimate(reference: Clip, other: Clip, around_s: float = 0.0, reach_s: float = LONGEST_S) -> Delay | None:
    """The delay of `other` against `reference` within `reach_s` of `around_s`; None if one is silent in the band."""
    one, two = _middle(reference), _middle(other)
    rate_hz = reference.rate_hz
    size = 1 << (one.size + two.size - 1).bit_length()
    spectrum_1, spectrum_2 = np.fft.rfft(one, size), np.fft.rfft(two, size)
    freqs = np.fft.rfftfreq(size, 1 / rate_hz)
    inside = (freqs >= BAND_HZ[0]) & (freqs <= min(BAND_HZ[1], 0.45 * rate_hz))
    power_1, power_2 = np.square(np.abs(spectrum_1)) * inside, np.square(np.abs(spectrum_2)) * inside
    if power_1.max() <= 1e-12 or power_2.max() <= 1e-12:
        return None
    cross = spectrum_2 * np.conj(spectrum_1) * inside
    floor = 10 ** (-QUIET_DB / 10)
    strong = (power_1 > floor * power_1.max()) & (power_2 > floor * power_2.max())
    white = np.where(strong, cross / np.maximum(np.abs(cross), 1e-300), 0)
    lags = np.fft.irfft(white, size)
    reach, centre = min(int(reach_s * rate_hz), size // 2 - 2), round(around_s * rate_hz)
    nearby = (centre + np.arange(-reach, reach + 1)) % size
    whole = centre - reach + int(np.argmax(np.abs(lags[nearby])))
    shift = _refined(white[inside], freqs[inside] / rate_hz, whole)
    aligned = np.sum(np.real(cross * np.exp(2j * np.pi * freqs * shift / rate_hz)))
    return Delay(shift / rate_hz, float(aligned / np.sqrt(power_1.sum() * power_2.sum())))


def _middle(clip: Clip) -> NDArray[np.float64]:
    return clip.samples.sum(axis=1)


def _refined(white: NDArray[np.complex128], cycles: NDArray[np.float64], whole: int) -> float:
    """The lag of the peak near a whole lag, in samples: the exact correlation at 1/16 sample steps, and a parabola."""
    places = whole + np.arange(-INTERPOLATION, INTERPOLATION + 1) / INTERPOLATION
    step = np.exp(2j * np.pi * cycles / INTERPOLATION)
    turned = white * np.exp(2j * np.pi * cycles * places[0])
    values = np.empty(places.size)
    for place in range(places.size):
        values[place] = abs(float(np.sum(turned.real)))
        turned = turned * step
    at = int(np.clip(np.argmax(values), 1, values.size - 2))
    return float(places[at]) + _top(values, at) / INTERPOLATION


def _top(values: NDArray[np.float64], at: int) -> float:
    """Where the parabola through a peak and its neighbours has its top, in places, −0.5 to 0.5."""
    before, here, after = (float(values[at + step]) for step in (-1, 0, 1))
    bend = before - 2 * here + after
    return 0.0 if bend >= 0 else float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))
