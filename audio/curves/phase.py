"""Minimum and excess phase, group delay, step response. Pure."""

from __future__ import annotations

import numpy as np

from ..errors import MeasureError
from .curve import Curve, Numbers

GRID_RATE_HZ, GRID_SIZE = 768_000, 1 << 19  # far beyond the audio band, whose phase its end would bend; 1.5 Hz apart
SLOPE_OCTAVES, STEEPEST_DB, DEEPEST_DB = 0.5, 24.0, 60.0  # a curve's continuation beyond its band; our choices
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


def minimum_phase_of(curve: Curve) -> Numbers:
    """The minimum phase of a curve in degrees at its own frequencies, of what was measured and not of its limits.

    Only the valid band counts: a sweep that ends, a gate or a band-pass of the measurement is no filter of the
    loudspeaker. Below the band the level goes on as straight as it ends there (its slope over the last half octave, at
    most 24 dB an octave down, 60 dB in all), as cabinets do; above it the last level is held. What is really there was
    not measured: a fall above 20 kHz that nobody saw adds 20 to 30 degrees at 10 kHz, so the phase is least sure within
    an octave of the band's ends.
    """
    grid = np.fft.rfftfreq(GRID_SIZE, 1 / GRID_RATE_HZ).astype(float)
    phase = np.degrees(np.unwrap(minimum_phase(10 ** (_continued(curve, grid) / 20))))
    return np.interp(curve.hz, grid, phase)


def _continued(curve: Curve, grid: Numbers) -> Numbers:
    """The level on a grid from 0 Hz: as measured within the valid band, beyond it on its last slope."""
    low, high = curve.band
    if not low * 2 <= high:
        raise MeasureError("less than an octave of this curve is valid; a minimum phase needs more")
    inside = (curve.hz >= low) & (curve.hz <= high)
    places, level = np.log2(curve.hz[inside]), curve.level_db[inside]
    at = np.log2(np.maximum(grid, 1e-3))
    found = np.interp(at, places, level)
    near = places - places[0] <= SLOPE_OCTAVES
    slope = float(np.polyfit(places[near], level[near], 1)[0]) if near.sum() > 2 else 0.0
    below = at < places[0]
    found[below] += np.maximum(np.clip(slope, 0.0, STEEPEST_DB) * (at[below] - places[0]), -DEEPEST_DB)
    return np.asarray(found)


def excess_phase(curve: Curve) -> Numbers:
    """The measured phase less the minimum phase, in degrees, unwrapped.

    Raises
    ------
    MeasureError
        If the curve has no phase.
    """
    return measured_phase(curve) - minimum_phase_of(curve)


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
