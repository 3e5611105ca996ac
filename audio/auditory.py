"""How loud a spectrum is to the ear, by auditory bands: filters, threshold in quiet, loudness in each band. Pure.

A plain model of steady loudness: a row of auditory filters, one at each step of the ERB-rate scale; what each lets
through, against the threshold in quiet there; a power law that begins at that threshold. A weak sound beside a strong
one passes through the strong one's filters and adds next to nothing: so masking comes in. The filters have the form
they have at moderate levels; that strong low sounds mask higher ones further is left out.
"""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]

# Glasberg and Moore, "Derivation of auditory filter shapes from notched-noise data", Hearing Research 47, 1990: the
# equivalent rectangular bandwidth is 24.7 (4.37 F + 1) Hz and the number of them below F is 21.4 log10(4.37 F + 1),
# F in kHz; the filter at f is a rounded exponential (1 + p g) exp(-p g), g = |f' - f| / f, p = 4 f / ERB (from memory;
# the bandwidth at 1 kHz, 132.6 Hz, is printed widely).
ERB_AT_0_HZ, PER_KHZ, NUMBERS_A_DECADE = 24.7, 4.37, 21.4
EXPONENT = 0.23  # Zwicker and Fastl, Psychoacoustics, chapter 8: specific loudness (1/2 + E / 2 E_threshold)^0.23 - 1
SONE_TONE_HZ, SONE_TONE_DB = 1000.0, 40.0  # the sone's definition: so loud is a 1 kHz tone of 40 dB SPL


def erb_hz(freq_hz: Numbers | float) -> Numbers:
    """The equivalent rectangular bandwidth of the auditory filter at a frequency, in Hz."""
    return ERB_AT_0_HZ * (PER_KHZ * np.asarray(freq_hz) / 1000 + 1)


def erb_number(freq_hz: Numbers | float) -> Numbers:
    """How many such bandwidths lie below a frequency: its place on the ERB-rate scale."""
    return NUMBERS_A_DECADE * np.log10(PER_KHZ * np.asarray(freq_hz) / 1000 + 1)


def frequency_hz(number: Numbers | float) -> Numbers:
    """The frequency at a place on the ERB-rate scale; undoes `erb_number`."""
    return np.asarray((10 ** (np.asarray(number) / NUMBERS_A_DECADE) - 1) * 1000 / PER_KHZ)


def threshold_db(freq_hz: Numbers | float) -> Numbers:
    """The threshold in quiet, dB SPL.

    Source: Terhardt, "Calculating virtual pitch", Hearing Research 1, 1979 (formula from memory).
    """
    khz = np.asarray(freq_hz, dtype=np.float64) / 1000
    return 3.64 * khz**-0.8 - 6.5 * np.exp(-0.6 * (khz - 3.3) ** 2) + 1e-3 * khz**4


def filters(sounds_hz: Numbers, centres_hz: Numbers) -> Numbers:
    """What each filter lets through of a sound at each frequency, as power; shape (sounds, filters)."""
    steepness = 4 * centres_hz / erb_hz(centres_hz)
    reach = steepness * np.abs(sounds_hz[:, None] - centres_hz) / centres_hz
    return np.asarray((1 + reach) * np.exp(-reach))


def specific_loudness(above_threshold: Numbers) -> Numbers:
    """The loudness in each filter, sone for each step of the ERB-rate scale; nothing below the threshold.

    Parameters
    ----------
    above_threshold
        What the filter lets through over what it would at the threshold in quiet, as a ratio of powers.
    """
    return _scale() * _growth(above_threshold)


def _growth(above_threshold: Numbers) -> Numbers:
    return np.maximum(0.5 + 0.5 * above_threshold, 1.0) ** EXPONENT - 1


@functools.cache
def _scale() -> float:
    """What makes the tone that defines the sone 1 sone loud."""
    centres_hz = frequency_hz(erb_number(SONE_TONE_HZ) + np.arange(-12.0, 13.0))
    let_through = filters(np.array([SONE_TONE_HZ]), centres_hz)[0]
    return float(1 / np.sum(_growth(let_through * 10 ** ((SONE_TONE_DB - threshold_db(centres_hz)) / 10))))
