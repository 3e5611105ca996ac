"""Taking a microphone's own response off whatever it recorded: levels by frequency, or an impulse response. Pure.

Every way by which sound comes in (sweeps, impulse responses, sets of directions, text) goes through here, so that the
numbers, the band that stays valid and the words that are kept with the curve always agree.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..room.microphone import Calibration
from .curve import Numbers
from .phase import minimum_phase

NONE = "none"
LEAST_LINES = 1 << 14  # of the spectrum on which an impulse response is corrected: 3 Hz apart at 48 kHz


@dataclass(frozen=True)
class Correction:
    """What is done about the microphone: nothing where `calibration` is None."""

    calibration: Calibration | None = None

    def levels(self, hz: Numbers, level_db: Numbers) -> Numbers:
        """Levels without the microphone's deviation, shape (n,)."""
        if self.calibration is None:
            return level_db
        return np.asarray(level_db + self.calibration.correction_db(hz))

    def phases(self, hz: Numbers, phase_deg: Numbers) -> Numbers:
        """Phases in degrees without the microphone's own, which is taken as its minimum phase."""
        if self.calibration is None:
            return phase_deg
        grid = np.fft.rfftfreq(1 << 18, 1 / 768_000)  # far beyond the audio band, whose end it would bend otherwise
        own = np.degrees(minimum_phase(10 ** (self.calibration.correction_db(np.maximum(grid, 1.0)) / 20)))
        return np.asarray(phase_deg + np.interp(hz, grid, own))

    def impulse(self, samples: Numbers, rate_hz: int) -> Numbers:
        """An impulse response without the microphone's deviation, shape (frames,).

        The microphone is taken as a minimum-phase system (capacitor microphones are, in the audio band: from memory),
        so that nothing comes before the sound that was not there.
        """
        if self.calibration is None:
            return samples
        size = max(2 * LEAST_LINES, 1 << int(np.ceil(np.log2(2 * len(samples)))))
        hz = np.fft.rfftfreq(size, 1 / rate_hz)
        gain = 10 ** (self.calibration.correction_db(np.maximum(hz, 1.0)) / 20)
        spectrum = np.fft.rfft(samples, size) * gain * np.exp(1j * minimum_phase(gain))
        return np.asarray(np.fft.irfft(spectrum, size)[: len(samples)])

    def valid_hz(self, band_hz: tuple[float, float]) -> tuple[float, float]:
        """The part of a band in which the microphone is known: where its file ends, the curve ends."""
        if self.calibration is None:
            return band_hz
        low, high = self.calibration.band_hz
        return max(band_hz[0], low), min(band_hz[1], high)

    @property
    def words(self) -> str:
        """What was done, as it is kept with the curve."""
        if self.calibration is None:
            return NONE
        low, high = self.calibration.band_hz
        return f"{self.calibration.name or 'a correction'}, {low:g} to {high:g} Hz"

    def said(self, band_hz: tuple[float, float]) -> list[str]:
        """What is to be told of it beside a curve of this band, a sentence each."""
        if self.calibration is None:
            return []
        found = []
        low, high = self.calibration.band_hz
        if low > band_hz[0] or high < band_hz[1]:
            found.append(
                f"the microphone's file says nothing beyond {low:g} to {high:g} Hz, so the curve is valid only there"
            )
        if self.calibration.sensitivity:
            found.append(
                f"the microphone's file states a sensitivity ({self.calibration.sensitivity}); it moves no curve: "
                "dB SPL comes from earwitness level calibrate"
            )
        return found
