"""The exponential sine sweep: made, and turned back into the responses of fundamental and harmonics. Pure.

After Farina 2000 and, for the synchronised length, Novak 2015 (from memory; the formulas are checked in the tests).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np

from ..errors import MeasureError
from .curve import Curve, Numbers

HARMONICS = 5
FADE_SHARE = 0.02  # of the sweep's length, at its end
PRE_DELAY_S = 0.02  # kept before the onset of the response
FLOOR = 1e-4  # of the sweep's largest spectrum: below it nothing was played, and nothing is divided


@dataclass(frozen=True)
class Sweep:
    """A sweep: its ends, its rate constant L in seconds, the real length and the amplitude."""

    low_hz: float
    high_hz: float
    constant_s: float
    length_s: float
    rate_hz: int
    amplitude: float

    def advance_s(self, harmonic: int) -> float:
        """How much earlier than the fundamental a harmonic's response comes: L·ln n."""
        return self.constant_s * log(harmonic)

    def samples(self) -> Numbers:
        """The sweep, shape (frames,): a ramp of 10 ms up, a fade down at the end."""
        frames = round(self.length_s * self.rate_hz)
        t = np.arange(frames) / self.rate_hz
        phase = 2 * np.pi * self.low_hz * self.constant_s * (np.exp(t / self.constant_s) - 1)
        made = self.amplitude * np.sin(phase)
        up, down = round(0.01 * self.rate_hz), max(8, round(FADE_SHARE * frames))
        made[:up] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(up) / up)
        made[-down:] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(1, down + 1) / down)
        return made


@dataclass(frozen=True, eq=False)
class Deconvolved:
    """What a recorded sweep comes to.

    Attributes
    ----------
    impulse
        The linear response, `PRE_DELAY_S` before the expected arrival to the end of the recording.
    harmonics
        By order from 2: responses of the harmonics, as long as the time between them allows.
    noise_db
        Level of the response's last tenth, below its peak.
    """

    impulse: Numbers
    harmonics: dict[int, Numbers]
    rate_hz: int
    noise_db: float


def sweep(low_hz: float, high_hz: float, seconds: float, rate_hz: int, amplitude: float) -> Sweep:
    """A synchronised sweep of about so many seconds: L·f1 is whole, so that harmonics keep their phase.

    Raises
    ------
    MeasureError
        If the ends, the length or the amplitude are out of range.
    """
    if not 0 < low_hz < high_hz <= 0.49 * rate_hz:
        raise MeasureError(
            f"a sweep runs from above 0 Hz up to {0.49 * rate_hz:.0f} Hz at this rate; got {low_hz:g} to {high_hz:g}"
        )
    if not 0.1 <= seconds <= 120:
        raise MeasureError(f"a sweep is 0.1 to 120 s long; got {seconds:g}")
    if not 0 < amplitude <= 0.5:
        raise MeasureError(f"a sweep's amplitude is above 0 and at most 0.5 (-6 dBFS); got {amplitude:g}")
    span = log(high_hz / low_hz)
    constant = max(1, round(low_hz * seconds / span)) / low_hz
    return Sweep(low_hz, high_hz, constant, constant * span, rate_hz, amplitude)


def deconvolved(made: Sweep, recorded: Numbers, harmonics: int = HARMONICS) -> Deconvolved:
    """The impulse responses behind a recording of the sweep.

    Parameters
    ----------
    recorded
        Shape (frames,), from the moment the sweep began to play, longer than the sweep.

    Raises
    ------
    MeasureError
        If the recording is shorter than the sweep, silent, or clipped.
    """
    played = made.samples()
    if len(recorded) <= len(played):
        raise MeasureError("the recording is not longer than the sweep; record some seconds more")
    peak = float(np.abs(recorded).max(initial=0.0))
    if peak < 1e-7 or not np.isfinite(peak):
        raise MeasureError("the recording is silent; check the microphone and its channel")
    clipped = np.abs(recorded) >= 0.999 * max(peak, 1.0)
    if (clipped[1:] & clipped[:-1]).any():
        raise MeasureError("the recording is clipped; lower the microphone's gain or the level and sweep again")
    size = 1 << int(np.ceil(np.log2(len(recorded) + len(played))))
    source = np.fft.rfft(played, size)
    hz = np.fft.rfftfreq(size, 1 / made.rate_hz).astype(float)
    inside = _taper(hz, made)
    weight = np.abs(source) ** 2
    inverse = np.conj(source) / np.maximum(weight, FLOOR**2 * weight.max())
    whole = np.fft.irfft(np.fft.rfft(recorded, size) * inverse * inside, size)
    lead = round(PRE_DELAY_S * made.rate_hz)
    impulse = np.roll(whole, lead)[: len(recorded) - len(played) + lead]
    tail = impulse[-max(8, len(impulse) // 10) :]
    noise = 20 * np.log10(max(float(np.sqrt(np.mean(tail**2))), 1e-12) / float(np.abs(impulse).max()))
    found = {}
    for order in range(2, harmonics + 1):
        length = round((made.advance_s(order + 1) - made.advance_s(order)) * made.rate_hz)
        start = -round(made.advance_s(order) * made.rate_hz) - lead
        found[order] = np.roll(whole, -start)[: min(length, size // 4)]
    return Deconvolved(impulse, found, made.rate_hz, float(noise))


def distortion(made: Sweep, result: Deconvolved, window_s: float = 0.1) -> dict[int, Curve]:
    """Each harmonic's level relative to the fundamental, in dB, against the FUNDAMENTAL's frequency.

    Parameters
    ----------
    window_s
        How much of each response is taken, at most what lies before the next harmonic.
    """
    size = 1 << int(np.ceil(np.log2(max(made.rate_hz, 1))))
    frames = round(window_s * made.rate_hz)
    hz = np.fft.rfftfreq(size, 1 / made.rate_hz).astype(float)
    linear = np.abs(np.fft.rfft(_ended(result.impulse[: frames + round(PRE_DELAY_S * made.rate_hz)]), size))
    found = {}
    for order, response in result.harmonics.items():
        level = np.abs(np.fft.rfft(_ended(response[:frames]), size))
        grid = hz[(hz >= made.low_hz * 1.1) & (hz * order <= made.high_hz * 0.95)]
        if len(grid) < 2:
            continue
        above = np.interp(grid * order, hz, level)
        below = np.maximum(np.interp(grid, hz, linear), 1e-12)
        found[order] = Curve(
            grid, 20 * np.log10(np.maximum(above / below, 1e-9)), None, (made.low_hz, made.high_hz / order)
        )
    return found


def _taper(hz: Numbers, made: Sweep) -> Numbers:
    """1 over the sweep's band, a smooth end beyond it, so that nothing is made of frequencies that were not played."""
    low = np.clip((hz - made.low_hz * 0.7) / (made.low_hz * 0.3), 0, 1)
    high = np.clip((min(made.high_hz * 1.15, made.rate_hz / 2) - hz) / (made.high_hz * 0.1), 0, 1)
    return (0.5 - 0.5 * np.cos(np.pi * low)) * (0.5 - 0.5 * np.cos(np.pi * high))


def _ended(response: Numbers) -> Numbers:
    """A response faded out over its last quarter."""
    made = response.astype(float).copy()
    tail = len(made) // 4
    if tail:
        made[-tail:] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(1, tail + 1) / tail)
    return made
