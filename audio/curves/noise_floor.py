"""What noise alone would show in a response: from the silence before a sweep to a floor for each frequency. Pure.

The noise is taken as steady. What the deconvolution and the gate make of its power density follows exactly, by its
autocorrelation; nothing is drawn at random, and hum and rumble are smeared by the gate as the signal is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..runs import runs
from . import gate
from .curve import Curve, Numbers
from .gate import Window
from .smooth import smoothed
from .sweep import WINDOW_S, Deconvolved, Sweep, harmonic_window, inverse, lines

HUM_CLEAR_DB = 20.0  # above a steady tone, which is no noise: it moves the response by 0.8 dB at most; our choice
CLEAR_DB = 10.0  # the signal must exceed the noise by this to be valid: then noise moves it by 0.4 dB (RMS); our choice
COMPARED_FRACTION = 3.0  # of an octave: a notch of the response is no noise
HARMONIC_CLEAR_DB = 12.0  # a harmonic's own: noise in its short window exceeds its mean by 10 dB once in 20,000 cells
STEADY_FRACTION = 3.0  # of an octave: over so much half a second of silence tells the density well
LEAST_BAND = 2.0  # a valid band spans an octave at least


@dataclass(frozen=True, eq=False)
class Silence:
    """The power density of noise: mean square for each line of a window's spectrum, over the window's energy.

    `hz` are the lines, shape (n,); `density` is 1 for white noise of RMS 1.0; `rms` is the whole noise's.
    """

    hz: Numbers
    density: Numbers
    rms: float


def silence(parts: Sequence[Numbers], rate_hz: int) -> Silence:
    """The density over several stretches of silence of one length, shape (frames,) each."""
    window = np.hanning(len(parts[0]))
    power = [np.abs(np.fft.rfft((part - part.mean()) * window)) ** 2 for part in parts]
    hz = np.fft.rfftfreq(len(window), 1 / rate_hz).astype(float)
    rms = float(np.sqrt(np.mean([np.mean(np.square(part - part.mean())) for part in parts])))
    return Silence(hz, np.mean(power, axis=0) / np.sum(window**2), rms)


def of_response(
    heard: Silence, made: Sweep, averages: int, length_s: float, window: Window, reference: float = 1.0
) -> Curve:
    """The noise floor of a gated response, in dB, on the lines that the gated response has."""
    frames, lead = round(length_s * made.rate_hz), round(gate.LEAD_S * made.rate_hz)
    shape = gate.shape(frames, lead, window)
    hz = gate.lines(made.rate_hz, len(shape))
    power = _power(heard, made, shape, hz) / averages
    return Curve(hz[1:-1], 10 * np.log10(np.maximum(power[1:-1], 1e-30)) - 20 * np.log10(reference))


def of_harmonics(
    heard: Silence,
    made: Sweep,
    result: Deconvolved,
    averages: int,
    gate_s: float = WINDOW_S,
    window: Window = "half-tukey",
) -> dict[int, Numbers]:
    """The power of the noise in each harmonic's gate, on the lines of `sweep.lines`, by order.

    As it was heard or its mean over a third of an octave around, whichever is more: what so short a silence happens to
    leave out somewhere is no lower floor there.
    """
    hz = lines(made)
    shapes = {order: harmonic_window(made, result, order, gate_s, window) for order in result.harmonics}
    return {order: _steadied(hz, _power(heard, made, shape, hz)) / averages for order, shape in shapes.items()}


def clear_band(
    signal: Curve, floor: Curve, band_hz: tuple[float, float], hum: Curve | None = None
) -> tuple[float, float] | None:
    """The widest part of a band in which the signal exceeds the noise by `CLEAR_DB`; None where that is no octave.

    Both are compared as power means over a third of an octave. What the lines of `hum` alone would show is compared as
    it is, line by line, and must lie `HUM_CLEAR_DB` lower.
    """
    level_db = smoothed(signal, COMPARED_FRACTION).level_db
    above = level_db - smoothed(floor, COMPARED_FRACTION).at(signal.hz)
    inside = (signal.hz >= band_hz[0]) & (signal.hz <= band_hz[1]) & (above >= CLEAR_DB)
    if hum is not None:
        inside &= level_db - hum.at(signal.hz) >= HUM_CLEAR_DB
    bands = [(float(signal.hz[start]), float(signal.hz[end - 1])) for start, end in runs(inside)]
    if not bands:
        return None
    low, high = max(bands, key=lambda each: each[1] / each[0])
    spacing = float(signal.hz[1] - signal.hz[0])  # a band that reaches its ends is not shortened to the next line
    found = (
        band_hz[0] if low - band_hz[0] <= spacing else low,
        band_hz[1] if band_hz[1] - high <= spacing else high,
    )
    return found if found[1] >= LEAST_BAND * found[0] else None


def _steadied(hz: Numbers, power: Numbers) -> Numbers:
    """A power with nothing below the mean around it."""
    seen = Curve(hz[1:], 10 * np.log10(np.maximum(power[1:], 1e-30)))
    mean = 10 ** (smoothed(seen, STEADY_FRACTION).level_db / 10)
    return np.concatenate([power[:1], np.maximum(power[1:], mean)])


def _power(heard: Silence, made: Sweep, shape: Numbers, hz: Numbers) -> Numbers:
    """The expected power of deconvolved noise under a window, on lines in Hz."""
    size = 1 << int(np.ceil(np.log2(2 * max(len(shape), 2 * len(heard.hz)))))
    size = max(size, 2 * (len(hz) - 1))
    grid = np.fft.rfftfreq(size, 1 / made.rate_hz)
    whole = 1 << int(np.ceil(np.log2(2 * made.frames)))
    gain = np.abs(inverse(made, whole)) ** 2
    density = np.interp(grid, heard.hz, heard.density) * np.interp(grid, np.fft.rfftfreq(whole, 1 / made.rate_hz), gain)
    correlation = np.fft.irfft(density, size)
    own = np.fft.irfft(np.abs(np.fft.rfft(shape, size)) ** 2, size)
    return np.interp(hz, grid, np.maximum(np.real(np.fft.rfft(correlation * own)), 0.0))
