"""How late one recording is against another, to a fraction of a sample, and how alike they are there. Pure.

The cross-spectrum is whitened in the middle of the audible range, where loudspeakers are most alike in phase, so that
their differing responses hardly move the estimate; it is interpolated before its peak is fitted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Signal = NDArray[np.float64]
Spectrum = NDArray[np.complex128]

BAND_HZ = (300.0, 4000.0)
INTERPOLATION = 16  # then the parabola's bias is below 0.0001 sample
QUIET_DB = 60.0  # spectral lines this far below the strongest carry noise, not music
SILENT_POWER = 1e-12
LONGEST_S = 2.0


@dataclass(frozen=True)
class Delay:
    """How late the other is (seconds; negative: early), and the correlation there, −1 to 1, in the band."""

    delay_s: float
    correlation: float


@dataclass(frozen=True)
class Band:
    """Spectra of signals in the middle band: frequencies (bins,), spectra (bins, signals), their rate and length."""

    freqs_hz: Signal
    spectra: Spectrum
    rate_hz: int
    size: int


def band(samples: Signal, rate_hz: int, size: int) -> Band:
    """The middle band of signals of shape (frames, signals), padded with silence to `size` frames."""
    freqs = np.asarray(np.fft.rfftfreq(size, 1 / rate_hz), dtype=np.float64)
    low, high = np.searchsorted(freqs, (BAND_HZ[0], min(BAND_HZ[1], 0.45 * rate_hz)))
    return Band(freqs[low:high], np.fft.rfft(samples, size, axis=0)[low:high], rate_hz, size)


def padded_size(frames: int, others: int) -> int:
    """A length at which a correlation of signals this long does not wrap round into itself."""
    return 1 << (frames + others - 1).bit_length()


def estimate(
    reference: Signal, other: Signal, rate_hz: int, around_s: float = 0.0, reach_s: float = LONGEST_S
) -> Delay | None:
    """The delay of one signal (frames,) against another within `reach_s` of `around_s`; None if one is silent."""
    size = padded_size(reference.size, other.size)
    one, two = band(reference[:, None], rate_hz, size), band(other[:, None], rate_hz, size)
    return between(one, 0, two, 0, around_s, reach_s)


def between(
    reference: Band, place: int, other: Band, other_place: int, around_s: float = 0.0, reach_s: float = LONGEST_S
) -> Delay | None:
    """As `estimate`, of two signals whose bands are known already."""
    white = whitened(reference, place, other, other_place)
    if white is None:
        return None
    freqs, rate_hz = reference.freqs_hz, reference.rate_hz
    shift = _refined(white, freqs / rate_hz, _whole_lag(white, reference, around_s, reach_s))
    one, two = reference.spectra[:, place], other.spectra[:, other_place]
    return Delay(shift / rate_hz, correlation(one, two, freqs, shift / rate_hz))


def whitened(reference: Band, place: int, other: Band, other_place: int) -> Spectrum | None:
    """The cross-spectrum (bins,), each line that carries music at the size of 1; None if one of them is silent."""
    one, two = reference.spectra[:, place], other.spectra[:, other_place]
    power_1, power_2 = np.square(np.abs(one)), np.square(np.abs(two))
    if power_1.max(initial=0.0) <= SILENT_POWER or power_2.max(initial=0.0) <= SILENT_POWER:
        return None
    cross = two * np.conj(one)
    floor = 10 ** (-QUIET_DB / 10)
    strong = (power_1 > floor * power_1.max()) & (power_2 > floor * power_2.max())
    return np.where(strong, cross / np.maximum(np.abs(cross), 1e-300), 0)


def correlation(one: Spectrum, two: Spectrum, freqs_hz: Signal, delay_s: float) -> float:
    """How alike two spectra (bins,) are once the second is read `delay_s` later, −1 to 1; 0 if one is silent."""
    scale = float(np.sqrt(np.sum(np.square(np.abs(one))) * np.sum(np.square(np.abs(two)))))
    if scale <= SILENT_POWER:
        return 0.0
    return float(np.sum(np.real(two * np.conj(one) * np.exp(2j * np.pi * freqs_hz * delay_s)))) / scale


def _whole_lag(white: Spectrum, known: Band, around_s: float, reach_s: float) -> float:
    """The lag of the highest correlation, in frames, on a grid as fine as the band asks for."""
    first = round(float(known.freqs_hz[0]) * known.size / known.rate_hz)
    coarse = 4 << (first + white.size).bit_length()  # twice as dense as the band needs, or the full rate
    coarse = min(coarse, known.size)
    spectrum = np.zeros(coarse // 2 + 1, dtype=np.complex128)
    spectrum[first : first + white.size] = white
    lags = np.fft.irfft(spectrum, coarse)
    per_lag = known.size / coarse
    reach = min(int(np.ceil(reach_s * known.rate_hz / per_lag)), coarse // 2 - 2)
    centre = round(around_s * known.rate_hz / per_lag)
    nearby = (centre + np.arange(-reach, reach + 1)) % coarse
    return (centre - reach + int(np.argmax(np.abs(lags[nearby])))) * per_lag


def _refined(white: Spectrum, cycles: Signal, near: float) -> float:
    """The lag of the peak near a lag, in frames: the exact correlation at ever finer steps, then a parabola."""
    step = 1.0
    place, values = near, np.empty(0)
    for _ in range(2):
        places = place + step * np.arange(-4, 5)
        turned, turn = white * np.exp(2j * np.pi * cycles * places[0]), np.exp(2j * np.pi * cycles * step)
        values = np.empty(places.size)
        for at in range(places.size):
            values[at] = abs(float(np.sum(turned.real)))
            turned = turned * turn
        at = int(np.clip(np.argmax(values), 1, values.size - 2))
        place = float(places[at])
        step /= 4
    return place + 4 * step * _top(values, at)


def _top(values: Signal, at: int) -> float:
    """Where the parabola through a peak and its neighbours has its top, in places, −0.5 to 0.5."""
    before, here, after = (float(values[at + step]) for step in (-1, 0, 1))
    bend = before - 2 * here + after
    return 0.0 if bend >= 0 else float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))
