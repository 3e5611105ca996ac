"""What the end of a line loop gives: the spectrum of its noise and of a tone, and the figures read from both. Pure.

A spectrum holds the power of each line, so that the power of a band is the sum of its lines. The window (Kaiser, its
side lobes 170 dB down) spreads a tone over a few lines and no further, so that nothing of it is taken for distortion.
Levels are dBFS: 0 is a sine that reaches full scale (as AES17 and IEC 61606 count; from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, pi, sqrt

import numpy as np

from ..errors import MeasureError
from ..levels.weighting import a_weight_db
from .curve import Numbers

BETA = 24.0
LOBE_LINES = ceil(sqrt(1 + (BETA / pi) ** 2)) + 1  # on either side of a tone
BLOCK_S = 0.6
FULL_SCALE_POWER = 0.5
BAND_HZ = (20.0, 20_000.0)
TONE_ABOVE_NOISE_DB = 20.0  # less, and no tone arrived
CLEAR_POWER = 4.0  # a harmonic counts from 6 dB above the noise of its own lines; our choice
EMPTY = 1e-30


@dataclass(frozen=True, eq=False)
class LineSpectrum:
    """The power of each line, relative to that of a full-scale sine: `hz` and `power`, shape (n,)."""

    hz: Numbers
    power: Numbers

    @property
    def level_db(self) -> Numbers:
        """The lines in dBFS."""
        return np.asarray(10 * np.log10(np.maximum(self.power, EMPTY)))

    @classmethod
    def of_levels(cls, hz: Numbers, level_db: Numbers) -> LineSpectrum:
        """The same from its lines in dBFS."""
        return cls(hz, 10 ** (level_db / 10))


@dataclass(frozen=True)
class ToneReading:
    """What a tone comes to within a band.

    Attributes
    ----------
    hz, level_db
        Of the tone, dBFS.
    thd
        The harmonics that stand clear of the noise, as a ratio of amplitudes; 0 where none does.
    thd_floor
        What the noise alone would give there: nothing below it was measured.
    thd_n
        All that is not the tone, as a ratio of amplitudes; never less than `thd`.
    harmonics
        By order, as ratios; those clear of the noise.

    All ratios are to the whole signal within the band: tone, harmonics and noise.
    band_hz
        Of all of these.
    """

    hz: float
    level_db: float
    thd: float
    thd_floor: float
    thd_n: float
    harmonics: Mapping[int, float]
    band_hz: tuple[float, float]


def line_spectrum(samples: Numbers, rate_hz: int) -> LineSpectrum:
    """The mean spectrum of a steady stretch, shape (frames,), over blocks of about `BLOCK_S` that overlap by 3/4.

    Raises
    ------
    MeasureError
        If it is shorter than a block.
    """
    size = 1 << ceil(np.log2(BLOCK_S * rate_hz))
    if len(samples) < size:
        raise MeasureError(f"a spectrum needs {size / rate_hz:.2f} s; got {len(samples) / rate_hz:.2f} s")
    window = np.kaiser(size, BETA)
    starts = range(0, len(samples) - size + 1, size // 4)
    power = np.mean([np.abs(np.fft.rfft(samples[at : at + size] * window)) ** 2 for at in starts], axis=0)
    power *= 2 / (size * np.sum(window**2))
    hz = np.fft.rfftfreq(size, 1 / rate_hz).astype(float)
    return LineSpectrum(hz[1:-1], power[1:-1] / FULL_SCALE_POWER)


def noise_db(spectrum: LineSpectrum, band_hz: tuple[float, float] = BAND_HZ, *, a_weighted: bool = False) -> float:
    """The level of noise in a band, dBFS, unweighted or A-weighted (IEC 61672-1)."""
    inside = _inside(spectrum, band_hz)
    weight = 10 ** (a_weight_db(spectrum.hz[inside]) / 10) if a_weighted else 1.0
    return float(10 * np.log10(max(float(np.sum(spectrum.power[inside] * weight)), EMPTY)))


def tone_reading(tone: LineSpectrum, noise: LineSpectrum, band_hz: tuple[float, float] = BAND_HZ) -> ToneReading:
    """A tone's level, its harmonics, and all that is not the tone, within a band.

    THD and THD+N are both relative to the whole signal (IEC 60268-3 and AES17; from memory), so that THD+N is never the
    smaller one. Of a tone that is nearly pure this is the ratio to the fundamental; at 30 % it is 4 % less.

    Parameters
    ----------
    noise
        Of the same loop without a signal, on the same lines.

    Raises
    ------
    MeasureError
        If no tone stands clear of the noise.
    """
    inside = _inside(tone, band_hz)
    top = int(np.argmax(np.where(inside, tone.power, 0.0)))
    lobe = _lobe(tone, top)
    power = float(tone.power[lobe].sum())
    if 10 * np.log10(max(power, EMPTY)) - noise_db(noise, band_hz) < TONE_ABOVE_NOISE_DB:
        raise MeasureError("no tone arrives at the end of the loop; check its cables, channels and levels")
    hz = float(np.sum(tone.hz[lobe] * tone.power[lobe]) / power)
    spacing = float(tone.hz[1] - tone.hz[0])
    found, floor, counted = dict[int, float](), 0.0, inside.copy()
    for order in range(2, int(min(band_hz[1], float(tone.hz[-1])) / hz) + 1):
        own = _lobe(tone, round((order * hz - float(tone.hz[0])) / spacing))
        alone, there = float(noise.power[own].sum()), float(tone.power[own].sum())
        floor += alone
        counted[own] = True  # a harmonic at the band's end counts whole
        if there > CLEAR_POWER * alone:
            found[order] = there - alone
    whole = float(tone.power[counted].sum())
    clear = sum(found.values())
    rest = max(whole - power, clear)  # of a very low tone the lobes overlap
    level_db = 10 * float(np.log10(power))
    harmonics = {order: sqrt(one / whole) for order, one in found.items()}
    thd, least, thd_n = (sqrt(one / whole) for one in (clear, floor, rest))
    return ToneReading(hz, level_db, thd, least, thd_n, harmonics, band_hz)


def _inside(spectrum: LineSpectrum, band_hz: tuple[float, float]) -> np.ndarray:
    return np.asarray((spectrum.hz >= band_hz[0]) & (spectrum.hz <= band_hz[1]))


def _lobe(spectrum: LineSpectrum, line: int) -> slice:
    return slice(max(0, line - LOBE_LINES), min(len(spectrum.hz), line + LOBE_LINES + 1))
