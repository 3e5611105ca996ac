"""Equal loudness at the chair by ISO 532-1: from recordings of the noise to gains in dB. Pure; slow by N5.

What the microphone recorded of each setup is heard as one sound: its channels together, the mean of the positions, the
background's power taken off in each third of an octave. The noise is steady, so the method for steady sounds is the one
made for it, and N5 differs from it by little.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..levels import zwicker
from ..levels.loudness_levels import levels_db
from ..levels.weighting import By, third_octave_bands
from .level import Z_HZ, decibels
from .microphone import Calibration
from .trims import Position

OTHER_LEVELS_DB = (-10.0, 10.0)  # how far off an assumed level may easily be; our choice

Signal = NDArray[np.float64]


def sounds(positions: Sequence[Position], rate_hz: int, calibration: Calibration | None = None) -> dict[str, Clip]:
    """The noise of each setup as it is heard at the chair: a column for each channel and position.

    The columns are scaled so that their powers add up to those of the channels, as the mean of the positions.
    """
    found = {}
    for setup in positions[0].setups:
        columns = [
            _cleaned(own.heard, place.silence, rate_hz, calibration)
            for place in positions
            for own in place.setups[setup]
        ]
        found[setup] = Clip(np.column_stack(columns) / len(positions) ** 0.5, rate_hz)
    return found


def level_dbfs(clip: Clip) -> float:
    """The level of a sound from 20 Hz to 20 kHz, all channels together, in dB re full scale."""
    hz = np.fft.rfftfreq(clip.frames, 1 / clip.rate_hz)
    inside = (hz >= Z_HZ[0]) & (hz <= Z_HZ[1])
    spectrum = np.square(np.abs(np.fft.rfft(clip.samples, axis=0)[inside]))
    return decibels(2 * float(np.sum(spectrum)) / clip.frames**2)


def gains_db(heard: Mapping[str, Clip], by: By) -> dict[str, float]:
    """The gain for each setup, 0 dB or less, that makes all as loud as the softest; empty where one is not heard.

    Raises
    ------
    MeasureError
        If the library is not installed.
    """
    found = levels_db(heard, by) or {}
    return {name: min(found.values()) - level for name, level in found.items()}


def phons(heard: Mapping[str, Clip], full_scale_spl: float, *, n5: bool) -> dict[str, float | None]:
    """The loudness level of each setup's noise at the chair, in phon; None where it is not heard."""
    phon = zwicker.n5_phon if n5 else zwicker.levels_phon
    return dict(zip(heard, phon(list(heard.values()), full_scale_spl), strict=True))


def _cleaned(
    heard: NDArray[np.floating], silence: NDArray[np.floating], rate_hz: int, calibration: Calibration | None
) -> Signal:
    """A recording with the microphone's correction, less the background's power in each third of an octave."""
    spectrum = np.fft.rfft(heard)
    hz = np.asarray(np.fft.rfftfreq(heard.size, 1 / rate_hz), dtype=np.float64)
    gain = np.ones(hz.size) if calibration is None else 10 ** (calibration.correction_db(hz) / 20)
    power = np.square(np.abs(spectrum))
    quiet = np.square(np.abs(np.fft.rfft(np.resize(silence, heard.size) if silence.size else np.zeros(heard.size))))
    edges = np.concatenate([[0.0], third_octave_bands(rate_hz) * 10**0.05, [rate_hz]])
    place = np.searchsorted(edges, hz, side="right")
    sums = [np.bincount(place, part, minlength=edges.size + 1) for part in (power, quiet)]
    share = np.clip(1 - sums[1] / np.maximum(sums[0], 1e-30), 0.0, 1.0)
    return np.fft.irfft(spectrum * gain * np.sqrt(share[place]), heard.size)
