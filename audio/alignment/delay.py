"""How late one recording is against another, to a fraction of a sample; how alike they are there, and how surely.

The cross-spectrum is whitened in the middle of the audible range, where loudspeakers are most alike in phase, so that
their differing responses hardly move the estimate; it is interpolated before its peak is fitted. Pure: arrays and
rates in, seconds out.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .correlation import Signal, padded_size

Spectrum = NDArray[np.complex128]

BAND_HZ = (300.0, 4000.0)
QUIET_DB = 60.0  # spectral lines this far below the strongest carry noise, not music
SILENT_POWER = 1e-12
LONGEST_S = 2.0
TURNED_AT_ONCE = 512
APART_S = 0.002  # nearer lags are the same peak: beyond, the ringing of a band 3.7 kHz wide is below a twentieth of it


@dataclass(frozen=True)
class Alignment:
    """Where one recording lies against another.

    Attributes
    ----------
    delay_s
        How late the other is, in seconds; negative: early.
    correlation
        Of the two at that delay in the middle band, −1 to 1; negative where the polarity is turned.
    next_best_s
        The delay that fits next best, `APART_S` away or more, to the step of the lags looked at; None where nothing so
        far away was looked at.
    certainty
        By how much the best fits better than the next best, as a share of the best, 0 to 1; 1 where there is no other.
        Near 0 either may be right, as for a pitch that repeats. A high one is no proof: each line of the spectrum
        counts alike here, which hides long repeats in the music, and a delay beyond the range looks like its edge.
    evenly
        As `correlation`, but with each line of the spectrum that carries music counted alike: what of the other is one
        delay of the reference. 1 where that is all there is; its sign does not hang on a few loud tones.
    """

    delay_s: float
    correlation: float
    next_best_s: float | None
    certainty: float
    evenly: float


@dataclass(frozen=True)
class Band:
    """Spectra of signals in the middle band: frequencies (bins,), spectra (bins, signals), their rate and length."""

    freqs_hz: Signal
    spectra: Spectrum
    rate_hz: int
    size: int


def band(samples: Signal, rate_hz: int, size: int, within_hz: tuple[float, float] = BAND_HZ) -> Band:
    """The middle band, or another, of signals of shape (frames, signals), padded with silence to `size` frames."""
    freqs, low = _freqs(rate_hz, size, within_hz)
    each = np.ascontiguousarray(samples.T)  # one signal after another is transformed in half the time
    return Band(freqs, np.fft.rfft(each, size)[:, low : low + freqs.size].copy().T, rate_hz, size)


@functools.lru_cache(maxsize=32)
def _freqs(rate_hz: int, size: int, within_hz: tuple[float, float]) -> tuple[Signal, int]:
    """The frequencies of a band, and which line of all is the first of them."""
    freqs = np.asarray(np.fft.rfftfreq(size, 1 / rate_hz), dtype=np.float64)
    low, high = np.searchsorted(freqs, (within_hz[0], min(within_hz[1], 0.45 * rate_hz)))
    return freqs[low:high].copy(), int(low)


def align(
    reference: Signal, other: Signal, rate_hz: int, around_s: float = 0.0, reach_s: float = LONGEST_S
) -> Alignment | None:
    """Where one signal (frames,) lies against another, within `reach_s` of `around_s`; None if one is silent."""
    size = padded_size(reference.size, other.size)
    one, two = band(reference[:, None], rate_hz, size), band(other[:, None], rate_hz, size)
    return align_bands(one, 0, two, 0, around_s, reach_s)


def align_bands(
    reference: Band, place: int, other: Band, other_place: int, around_s: float = 0.0, reach_s: float = LONGEST_S
) -> Alignment | None:
    """As `align`, of two signals whose bands are known already."""
    white = whitened(reference, place, other, other_place)
    if white is None:
        return None
    delay_s, evenly, rival_s, certainty = peak(white, reference, around_s, reach_s)
    one, two = reference.spectra[:, place], other.spectra[:, other_place]
    return Alignment(delay_s, correlation(one, two, reference.freqs_hz, delay_s), rival_s, certainty, evenly)


def peak(
    white: Spectrum, known: Band, around_s: float = 0.0, reach_s: float = LONGEST_S
) -> tuple[float, float, float | None, float]:
    """The delay of a whitened cross-spectrum (bins,) over the lines of `known`, and `evenly`, next best and certainty
    as in `Alignment`.
    """
    freqs, rate_hz = known.freqs_hz, known.rate_hz
    near, rival, certainty = _best_lags(white, known, around_s, reach_s)
    delay_s = _refined(white, freqs / rate_hz, near) / rate_hz
    lines = max(int(np.count_nonzero(white)), 1)
    evenly = float(np.sum(np.real(white * _turns(freqs, delay_s)))) / lines
    return delay_s, evenly, None if rival is None else rival / rate_hz, certainty


def whitened(reference: Band, place: int, other: Band, other_place: int) -> Spectrum | None:
    """The cross-spectrum (bins,), each line that carries music at the size of 1; None if one of them is silent."""
    one, two = reference.spectra[:, place], other.spectra[:, other_place]
    power_1, power_2 = (np.square(each.real) + np.square(each.imag) for each in (one, two))
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
    return float(np.sum(np.real(two * np.conj(one) * _turns(freqs_hz, delay_s)))) / scale


def lag_series(white: Spectrum, known: Band, size: int) -> Signal:
    """The whitened correlation at `size` lags over the band's own length, negative lags from the end; shape (size,)."""
    first = round(float(known.freqs_hz[0]) * known.size / known.rate_hz)
    spectrum = np.zeros(size // 2 + 1, dtype=np.complex128)
    spectrum[first : first + white.size] = white
    return np.asarray(np.fft.irfft(spectrum, size), dtype=np.float64)


def _best_lags(white: Spectrum, known: Band, around_s: float, reach_s: float) -> tuple[float, float | None, float]:
    """The lags of the highest correlation and of the next best, in frames, and the certainty of the first.

    On a grid as fine as the band asks for.
    """
    first = round(float(known.freqs_hz[0]) * known.size / known.rate_hz)
    coarse = 4 << (first + white.size).bit_length()  # twice as dense as the band needs, or the full rate
    coarse = min(coarse, known.size)
    per_lag = known.size / coarse
    reach = min(int(np.ceil(reach_s * known.rate_hz / per_lag)), coarse // 2 - 2)
    centre = round(around_s * known.rate_hz / per_lag)
    nearby = (centre + np.arange(-reach, reach + 1)) % coarse
    heights = np.abs(lag_series(white, known, coarse)[nearby])
    best = int(np.argmax(heights))
    apart = int(np.ceil(APART_S * known.rate_hz / per_lag))
    rest = heights.copy()
    rest[max(best - apart + 1, 0) : best + apart] = -1.0
    rival = int(np.argmax(rest))
    lag = (centre - reach + best) * per_lag
    if rest[rival] < 0:
        return lag, None, 1.0
    return lag, (centre - reach + rival) * per_lag, 1.0 - float(rest[rival] / max(heights[best], 1e-300))


def _refined(white: Spectrum, cycles: Signal, near: float) -> float:
    """The lag of the peak near a lag, in frames: the exact correlation at ever finer steps, then a parabola."""
    step = 1.0
    place, values = near, np.empty(0)
    for _ in range(2):
        places = place + step * np.arange(-4, 5)
        turned, turn = white * _turns(cycles, places[0]), _turns(cycles, step)
        values = np.empty(places.size)
        for at in range(places.size):
            values[at] = abs(float(np.sum(turned.real)))
            turned = turned * turn
        at = int(np.clip(np.argmax(values), 1, values.size - 2))
        place = float(places[at])
        step /= 4
    return place + 4 * step * _top(values, at)


def _turns(cycles: Signal, by: float) -> Spectrum:
    """The turn of each of evenly spaced frequencies by a delay, ``exp(2j pi cycles by)``, but for rounding.

    As products of few turns: an exponential takes ten times as long as a product.
    """
    far = np.exp(2j * np.pi * by * cycles[::TURNED_AT_ONCE])
    near = np.exp(2j * np.pi * by * (cycles[:TURNED_AT_ONCE] - cycles[:1]))
    return np.asarray((far[:, None] * near).ravel()[: cycles.size])


def _top(values: Signal, at: int) -> float:
    """Where the parabola through a peak and its neighbours has its top, in places, −0.5 to 0.5."""
    before, here, after = (float(values[at + step]) for step in (-1, 0, 1))
    bend = before - 2 * here + after
    return 0.0 if bend >= 0 else float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))
