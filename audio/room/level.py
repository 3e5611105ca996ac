"""The level of a recording in the weighting chosen, with a microphone's correction; and dB SPL. Pure."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..levels.weighting import BAND_HZ, a_weight_db, c_weight_db
from .microphone import Calibration
from .weightings import WEIGHTINGS as WEIGHTINGS  # users of levels find them here
from .weightings import Weighting as Weighting

Z_HZ = (20.0, 20_000.0)
CALIBRATOR_HZ = (900.0, 1100.0)
CALIBRATOR_STEADY_DB = 0.1  # a calibrator's tone stands still; our choice
CALIBRATOR_CLEAR_DB = 20.0

Signal = NDArray[np.float64]


def block_powers(
    samples: NDArray[np.floating],
    rate_hz: int,
    weighting: Weighting,
    blocks: int,
    calibration: Calibration | None = None,
) -> Signal:
    """The weighted mean square of each of `blocks` equal stretches of a recording, shape (frames,); full scale is 1.

    The weighting is applied to the spectrum by its defining formula, so nothing bends at the top as it would with a
    filter made by the bilinear transform.
    """
    length = samples.size // blocks
    parts = np.asarray(samples[: length * blocks], dtype=np.float64).reshape(blocks, length)
    power = np.square(np.abs(np.fft.rfft(parts, axis=1))) / length**2
    power[:, 1:] *= 2
    if length % 2 == 0:
        power[:, -1] /= 2
    freqs = np.asarray(np.fft.rfftfreq(length, 1 / rate_hz), dtype=np.float64)
    return np.asarray(power @ power_gain(freqs, rate_hz, weighting, calibration))


def decibels(power: float) -> float:
    """A mean square in dB re full scale; −300 for none."""
    return 10 * float(np.log10(max(power, 1e-30)))


def calibrator_level_dbfs(samples: NDArray[np.floating], rate_hz: int) -> tuple[float, str]:
    """The level of a calibrator's 1 kHz tone in a recording, shape (frames,), and what is wrong with it or ''.

    The tone must stand clear of everything else and be steady.
    """
    window = np.hanning(samples.size)
    spectrum = np.square(np.abs(np.fft.rfft(samples * window)))
    freqs = np.fft.rfftfreq(samples.size, 1 / rate_hz)
    tone = (freqs >= CALIBRATOR_HZ[0]) & (freqs <= CALIBRATOR_HZ[1])
    rest = (freqs > 20) & ~tone
    clear_db = decibels(float(spectrum[tone].sum())) - decibels(float(spectrum[rest].sum()))
    parts = [decibels(float(np.mean(np.square(part)))) for part in np.array_split(samples.astype(np.float64), 8)]
    level = decibels(float(np.mean(np.square(samples.astype(np.float64)))))
    if clear_db < CALIBRATOR_CLEAR_DB:
        return level, f"no clear 1 kHz tone is heard (it stands {clear_db:.0f} dB above the rest)"
    if max(parts) - min(parts) > CALIBRATOR_STEADY_DB:
        return level, f"the tone wavers by {max(parts) - min(parts):.2f} dB"
    return level, ""


def spl_offset_db(calibrator_db: float, read_dbfs: float) -> float:
    """What to add to dBFS to get dB SPL: the calibrator's level less what was read.

    >>> spl_offset_db(94.0, -26.0)
    120.0
    """
    return calibrator_db - read_dbfs


def power_gain(freqs: Signal, rate_hz: int, weighting: Weighting, calibration: Calibration | None = None) -> Signal:
    """The power gain of a weighting at each frequency, with a microphone's correction."""
    inside = (freqs >= Z_HZ[0]) & (freqs <= Z_HZ[1])
    if weighting == "band":
        gain = ((freqs >= BAND_HZ[0]) & (freqs <= BAND_HZ[1])).astype(np.float64)
    elif weighting == "z":
        gain = inside.astype(np.float64)
    elif weighting == "bs1770":
        from scipy.signal import sosfreqz

        from ..levels.k_weighting import k_weighting

        _, response = sosfreqz(k_weighting(rate_hz), freqs, fs=rate_hz)
        gain = np.square(np.abs(response)) * 10**-0.0691 * inside
    else:
        curve = a_weight_db if weighting == "a" else c_weight_db
        gain = np.where(inside, 10 ** (curve(freqs) / 10), 0.0)
    if calibration is not None:
        gain = gain * 10 ** (calibration.correction_db(freqs) / 10)
    return np.asarray(gain, dtype=np.float64)
