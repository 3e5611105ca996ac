"""The exponential sine sweep: made, and turned back into the responses of fundamental and harmonics. Pure.

After Farina 2000 and, for the synchronised length, Novak 2015 (from memory; the formulas are checked in the tests).
The linear response's arrival is found first; every harmonic's window lies relative to it, so that nothing depends on
how late the recording is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from ..errors import MeasureError
from . import gate
from .curve import Curve, Numbers
from .gate import Window

HARMONICS = 5
FADE_TO = 1.08  # times its high end, over which a sweep fades out: up to that end it is whole
PRE_DELAY_S = 0.02  # kept before the arrival of the response
FLOOR = 0.05  # of the spectrum a sweep has within its band: below it little was played, and only noise would be raised
RINGING_MARGIN = 4.0  # in power: the ringing is computed from a response that is itself cut; our choice
FILLED_LINES = 8  # on either side: 6 Hz at 48 kHz, less than the window resolves
LEAST_ABOVE = 1.1  # a sweep's low end, harmonics are told from there
WINDOW_S = 0.1  # of each harmonic's response, at most what lies before the next one

Spectrum = NDArray[np.complex128]


@dataclass(frozen=True)
class Sweep:
    """A sweep: its ends, its rate constant L in seconds, its length between its ends, and the amplitude."""

    low_hz: float
    high_hz: float
    constant_s: float
    length_s: float
    rate_hz: int
    amplitude: float

    def advance_s(self, harmonic: int) -> float:
        """How much earlier than the fundamental a harmonic's response comes: L·ln n."""
        return self.constant_s * log(harmonic)

    @property
    def frames(self) -> int:
        """How many frames it lasts, with the fade above its high end."""
        beyond = self.constant_s * log(min(FADE_TO, 0.499 * self.rate_hz / self.high_hz))
        return round((self.length_s + beyond) * self.rate_hz)

    def stretched(self, clock: float) -> Sweep:
        """The same sweep as a recorder hears it whose clock runs faster by `clock` (50e-6: 50 ppm)."""
        more = 1 + clock
        return replace(
            self,
            low_hz=self.low_hz / more,
            high_hz=self.high_hz / more,
            constant_s=self.constant_s * more,
            length_s=self.length_s * more,
        )

    def samples(self) -> Numbers:
        """The sweep, shape (frames,): a ramp of 10 ms up, a fade down above its high end."""
        frames = self.frames
        t = np.arange(frames) / self.rate_hz
        phase = 2 * np.pi * self.low_hz * self.constant_s * (np.exp(t / self.constant_s) - 1)
        made = self.amplitude * np.sin(phase)
        up, down = round(0.01 * self.rate_hz), max(8, frames - round(self.length_s * self.rate_hz))
        made[:up] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(up) / up)
        made[-down:] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(1, down + 1) / down)
        return made


@dataclass(frozen=True, eq=False)
class Deconvolved:
    """What a recorded sweep comes to.

    Attributes
    ----------
    impulse
        The linear response, from `PRE_DELAY_S` before its arrival to the end of the recording.
    harmonics
        By order from 2: responses of the harmonics, from their own lead before their arrival, as long as the time
        between them allows.
    noise_db
        Level of the response's last tenth, below its peak.
    arrival_s
        When the linear response is strongest, after the sweep's first sample was to be heard.
    """

    impulse: Numbers
    harmonics: dict[int, Numbers]
    rate_hz: int
    noise_db: float
    arrival_s: float = 0.0


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


def whole_response(made: Sweep, recorded: Numbers) -> Numbers:
    """All responses behind a recording, round in time, shape (a power of two,): the harmonics stand before 0.

    Raises
    ------
    MeasureError
        If the recording is not longer than the sweep, or silent.
    """
    frames = made.frames
    if len(recorded) <= frames:
        raise MeasureError("the recording is not longer than the sweep; record some seconds more")
    peak = float(np.abs(recorded).max(initial=0.0))
    if peak < 1e-7 or not np.isfinite(peak):
        raise MeasureError("the recording is silent; check the microphone and its channel")
    size = 1 << int(np.ceil(np.log2(len(recorded) + frames)))
    return np.asarray(np.fft.irfft(np.fft.rfft(recorded, size) * inverse(made, size), size))


@lru_cache(maxsize=4)
def inverse(made: Sweep, size: int) -> Spectrum:
    """What turns the spectrum of a recording into that of its responses, on the lines of a real FFT of this size."""
    source = np.fft.rfft(made.samples(), size)
    hz = np.fft.rfftfreq(size, 1 / made.rate_hz).astype(float)
    within = made.amplitude * made.rate_hz / 2 * np.sqrt(made.constant_s / np.maximum(hz, 1.0))  # by stationary phase
    found = np.conj(source) / np.maximum(np.abs(source) ** 2, (FLOOR * within) ** 2) * _taper(hz, made)
    found.flags.writeable = False
    return np.asarray(found)


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
    peak = float(np.abs(recorded).max(initial=0.0))
    clipped = np.abs(recorded) >= 0.999 * max(peak, 1.0)
    if (clipped[1:] & clipped[:-1]).any():
        raise MeasureError("the recording is clipped; lower the microphone's gain or the level and sweep again")
    whole = whole_response(made, recorded)
    return parted(made, whole, len(recorded) - made.frames, harmonics)


def parted(made: Sweep, whole: Numbers, reach: int, harmonics: int = HARMONICS) -> Deconvolved:
    """The whole response parted into the linear one and the harmonics, all relative to the arrival.

    Parameters
    ----------
    reach
        The last frame that the recording gives: the arrival is sought before it, and the linear response ends there.
    """
    arrival = int(np.argmax(np.abs(whole[: max(reach, 1)])))
    lead = round(PRE_DELAY_S * made.rate_hz)
    impulse = np.roll(whole, lead - arrival)[: max(reach - arrival, 0) + lead]
    tail = impulse[-max(8, len(impulse) // 10) :]
    noise = 20 * np.log10(max(float(np.sqrt(np.mean(tail**2))), 1e-12) / float(np.abs(impulse).max()))
    found = {}
    for order in range(2, harmonics + 1):
        start, length = _harmonic_window(made, order)
        found[order] = np.roll(whole, -(arrival + start))[: min(length, len(whole) // 4)]
    return Deconvolved(impulse, found, made.rate_hz, float(noise), arrival / made.rate_hz)


def distortion(
    made: Sweep,
    result: Deconvolved,
    gate_s: float = WINDOW_S,
    window: Window = "half-tukey",
    noise: dict[int, Numbers] | None = None,
) -> dict[int, tuple[Curve, Numbers]]:
    """Each harmonic's level relative to the fundamental, in dB, against the FUNDAMENTAL's frequency, and its floor.

    Both are taken by one gate, each from its own arrival on, and are valid from where that gate allows; a harmonic that
    is valid nowhere is left out. They begin so far above the sweep's low end that its start lies outside of their
    windows: where a sweep begins, a single harmonic makes a transient that the later parting takes for all of them.

    The floor, in the same dB, is what a perfectly linear system of this response would show (the sweep's own ends ring
    on in time), with the noise where that is given: nothing below it was measured.

    Parameters
    ----------
    gate_s, window
        The gate: at most `WINDOW_S` of it, and what lies before the next harmonic.
    noise
        By order: the power of the noise in a window like that harmonic's, on the lines of `lines(made)`.

    Raises
    ------
    MeasureError
        If the response is silent.
    """
    hz, size = lines(made), _lines_size(made)
    ringing = _ringing(made, result)
    lowest = made.low_hz * max(LEAST_ABOVE, exp(min(gate_s, WINDOW_S) / made.constant_s))
    found = {}
    for order, response in result.harmonics.items():
        length_s = harmonic_gate_s(made, result, order, gate_s)
        grid = hz[(hz >= lowest) & (hz * order <= made.high_hz * 0.95)]
        valid_hz = max(made.low_hz, 1 / max(length_s, 1e-9)), made.high_hz / order
        if np.sum((grid >= valid_hz[0]) & (grid <= valid_hz[1])) < 2:
            continue
        own = harmonic_window(made, result, order, gate_s, window)
        power = np.abs(np.fft.rfft(response[: len(own)] * own, size)) ** 2
        floor = _filled(RINGING_MARGIN * np.abs(np.fft.rfft(ringing[order][: len(own)] * own, size)) ** 2)
        if noise is not None:
            floor = floor + noise[order]
        below = np.maximum(np.interp(grid, hz, _linear(result, length_s, window, size)), 1e-12)
        level, least = (
            20 * np.log10(np.maximum(np.sqrt(np.interp(grid * order, hz, one)) / below, 1e-9)) for one in (power, floor)
        )
        found[order] = Curve(grid, level, None, valid_hz), least
    return found


def lines(made: Sweep) -> Numbers:
    """The frequencies, in Hz, on which distortion is computed."""
    return np.fft.rfftfreq(_lines_size(made), 1 / made.rate_hz).astype(float)


def harmonic_gate_s(made: Sweep, result: Deconvolved, order: int, gate_s: float = WINDOW_S) -> float:
    """How much of a gate, s, a harmonic has from its arrival on: what lies before the next one, `WINDOW_S` at most."""
    begin = _harmonic_onset(made, result, order)
    return min(gate_s, WINDOW_S, max(0.0, (len(result.harmonics[order]) - begin) / made.rate_hz))


def harmonic_window(
    made: Sweep, result: Deconvolved, order: int, gate_s: float = WINDOW_S, window: Window = "half-tukey"
) -> Numbers:
    """The gate of a harmonic, shape (frames,), from its response's first frame on: faded in before the arrival."""
    begin = _harmonic_onset(made, result, order)
    end = begin + round(harmonic_gate_s(made, result, order, gate_s) * made.rate_hz)
    begin = max(begin, 0)  # where the onset lies before the response the gate still ends where it should
    return _faded_in(begin, end - begin, window)


def _harmonic_onset(made: Sweep, result: Deconvolved, order: int) -> int:
    """The frame of a harmonic's response that stands to it as the linear one's onset does to that."""
    start, _ = _harmonic_window(made, order)
    before = gate.onset(result.impulse, made.rate_hz) - round(PRE_DELAY_S * made.rate_hz)
    return before - start - round(made.advance_s(order) * made.rate_hz)


def _linear(result: Deconvolved, length_s: float, window: Window, size: int) -> Numbers:
    """The magnitude of the fundamental's response within the same gate, on the lines of a real FFT of this size."""
    begin = gate.onset(result.impulse, result.rate_hz)
    cut = result.impulse[: begin + round(length_s * result.rate_hz)]
    return np.asarray(np.abs(np.fft.rfft(cut * _faded_in(begin, len(cut) - begin, window), size)))


def _faded_in(lead: int, frames: int, window: Window) -> Numbers:
    """A gate that takes all of what lies before it, faded in over the first half of that.

    No reflection comes before the sound, but the low end of a harmonic's band rings there, as it does behind it.
    """
    made = gate.shape(frames, lead, window)
    made[:lead] = np.concatenate(
        [0.5 - 0.5 * np.cos(np.pi * np.arange(lead // 2) / max(lead // 2, 1)), np.ones(lead - lead // 2)]
    )
    return made


def _harmonic_window(made: Sweep, order: int) -> tuple[int, int]:
    """Where a harmonic's response begins, frames from the linear arrival, and how long it is undisturbed."""
    length = round((made.advance_s(order + 1) - made.advance_s(order)) * made.rate_hz)
    lead = min(round(PRE_DELAY_S * made.rate_hz), length // 4)
    return -round(made.advance_s(order) * made.rate_hz) - lead, length


def _ringing(made: Sweep, result: Deconvolved) -> dict[int, Numbers]:
    """What the linear response alone leaves in the harmonics' windows: the sweep's ends, rung on backwards in time."""
    lead = round(PRE_DELAY_S * made.rate_hz)
    reach = round(made.advance_s(max(result.harmonics, default=1) + 2) * made.rate_hz) + lead
    size = 1 << int(np.ceil(np.log2(len(result.impulse) + 2 * reach)))
    hz = np.fft.rfftfreq(size, 1 / made.rate_hz).astype(float)
    whole = np.fft.irfft(np.fft.rfft(result.impulse, size) * _taper(hz, made), size)
    found = {}
    for order, response in result.harmonics.items():
        start, _ = _harmonic_window(made, order)
        found[order] = np.roll(whole, -(lead + start))[: len(response)]
    return found


def _filled(power: Numbers) -> Numbers:
    """The largest within some hertz of each line: a spectrum's zeros are no lower floor."""
    padded = np.pad(power, FILLED_LINES, mode="edge")
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, 2 * FILLED_LINES + 1).max(axis=1))


def _lines_size(made: Sweep) -> int:
    return 1 << int(np.ceil(np.log2(max(made.rate_hz, 1))))


def _taper(hz: Numbers, made: Sweep) -> Numbers:
    """1 over the sweep's band, a smooth end beyond it, so that nothing is made of frequencies that were not played."""
    low = np.clip((hz - made.low_hz * 0.7) / (made.low_hz * 0.3), 0, 1)
    end = min(made.high_hz * 1.15, made.rate_hz / 2)
    # as far from the band as the rate allows: what a gate cuts of its ringing bends what lies next to it
    wide = min(made.high_hz * 0.1, max(end - made.high_hz * 1.05, (end - made.high_hz) / 2))
    high = np.clip((end - hz) / wide, 0, 1)
    return (0.5 - 0.5 * np.cos(np.pi * low)) * (0.5 - 0.5 * np.cos(np.pi * high))
