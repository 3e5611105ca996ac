"""Minimum and excess phase, group delay, step response. Pure."""

from __future__ import annotations

import numpy as np

from ..errors import MeasureError
from .curve import Curve, Numbers

FLOOR_DB = -200.0  # below the peak: a zero has no minimum phase


def minimum_phase(magnitude: Numbers) -> Numbers:
    """The phase, in radians, of the minimum-phase system with this magnitude.

    Parameters
    ----------
    magnitude
        On the frequencies of a real FFT, from 0 to half the rate, shape (n/2 + 1,).

    Raises
    ------
    MeasureError
        If it is zero throughout.

    Notes
    -----
    The cepstrum of the logarithm of the magnitude, folded onto positive times.
    """
    peak = float(np.max(magnitude, initial=0.0))
    if peak <= 0:
        raise MeasureError("a response that is zero throughout has no phase")
    log = np.log(np.maximum(magnitude, peak * 10 ** (FLOOR_DB / 20)))
    cepstrum = np.fft.irfft(log)
    size = len(cepstrum)
    folded = np.zeros(size)
    folded[0] = cepstrum[0]
    folded[1 : size // 2] = 2 * cepstrum[1 : size // 2]
    folded[size // 2] = cepstrum[size // 2]
    return np.imag(np.fft.rfft(folded))


def minimum_phase_of(curve: Curve, rate_hz: int = 96_000, size: int = 1 << 16) -> Numbers:
    """The minimum phase of a curve in degrees at its own frequencies.

    Beyond its data the level is held; what that does to the phase shows near the ends of the band.
    """
    grid = np.fft.rfftfreq(size, 1 / rate_hz)
    level = np.interp(np.log(np.maximum(grid, 1e-3)), np.log(curve.hz), curve.level_db)
    phase = np.degrees(np.unwrap(minimum_phase(10 ** (level / 20))))
    return np.interp(curve.hz, grid, phase)


def excess_phase(curve: Curve, rate_hz: int = 96_000) -> Numbers:
    """The measured phase less the minimum phase, in degrees, unwrapped.

    Raises
    ------
    MeasureError
        If the curve has no phase.
    """
    return measured_phase(curve) - minimum_phase_of(curve, rate_hz)


def measured_phase(curve: Curve) -> Numbers:
    """The curve's phase in degrees, unwrapped."""
    if curve.phase_deg is None:
        raise MeasureError("this curve has no phase; bring in an impulse response, or text with a phase column")
    return np.degrees(np.unwrap(np.radians(curve.phase_deg)))


def group_delay_s(curve: Curve) -> Numbers:
    """Minus the slope of the phase against angular frequency, in seconds, at each frequency."""
    return -np.gradient(np.radians(measured_phase(curve)), 2 * np.pi * curve.hz)


def step_response(impulse: Numbers) -> Numbers:
    """The running sum of an impulse response, its peak at ±1."""
    steps = np.cumsum(impulse.astype(float))
    peak = float(np.abs(steps).max(initial=0.0))
    if peak <= 0:
        raise MeasureError("the impulse response is silent")
    return steps / peak
