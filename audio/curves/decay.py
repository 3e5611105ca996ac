"""How a response dies away: cumulative spectral decay, burst decay in periods, energy decay. Pure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import MeasureError
from .curve import Numbers, log_grid
from .gate import onset


@dataclass(frozen=True, eq=False)
class Decay:
    """Level in dB (0: the loudest) against frequency and time or periods; shape of `level_db`: (slices, frequencies).

    `valid_from_hz` holds, for each slice, the lowest frequency that what is left of the gate can resolve.
    """

    hz: Numbers
    steps: Numbers
    level_db: Numbers
    valid_from_hz: Numbers
    unit: str


def cumulative(impulse: Numbers, rate_hz: int, length_s: float, slices: int = 40, rise_s: float = 0.0002) -> Decay:
    """The cumulative spectral decay: the spectrum of what is left from τ on, in steps (Bunton and Small 1982).

    The gate's end stays fixed, so later slices resolve less at low frequencies; `valid_from_hz` says from where.

    Raises
    ------
    MeasureError
        If the gate is longer than the response.
    """
    cut = _after_onset(impulse, rate_hz, length_s)
    begin, frames = onset(cut, rate_hz), len(cut)
    size = 1 << int(np.ceil(np.log2(max(frames * 4, 4096))))
    grid = log_grid(100.0, min(20_000.0, rate_hz / 2.2), 24)
    hz = np.fft.rfftfreq(size, 1 / rate_hz)
    rise, end = max(2, round(rise_s * rate_hz)), frames // 4
    fade = np.ones(frames)
    fade[-end:] = 0.5 + 0.5 * np.cos(np.pi * np.arange(1, end + 1) / end)
    last = (frames - begin) * 0.6 / rate_hz
    steps = np.linspace(0, last, slices)
    rows = []
    for tau in steps:
        window = np.zeros(frames)
        at = begin + round(tau * rate_hz)
        window[at:] = 1
        if tau > 0:
            ramp = slice(max(0, at - rise), at)
            window[ramp] = 0.5 - 0.5 * np.cos(np.pi * np.arange(at - ramp.start) / max(at - ramp.start, 1))
        else:
            window[:] = 1
        spectrum = np.abs(np.fft.rfft(cut * window * fade, size))
        rows.append(20 * np.log10(np.maximum(np.interp(grid, hz, spectrum), 1e-12)))
    level = np.array(rows)
    left = (frames - begin) / rate_hz - steps
    return Decay(grid, steps, level - level.max(), 1 / left, "s")


def burst(impulse: Numbers, rate_hz: int, cycles: float = 4.0, periods: int = 30, per_octave: int = 12) -> Decay:
    """The burst decay: the envelope of the response to shaped bursts of a few cycles, against periods (Linkwitz 1980).

    Parameters
    ----------
    cycles
        Length of the burst, between its half-amplitude points; its envelope is a Gaussian.
    """
    begin = onset(impulse, rate_hz)
    cut = impulse[max(0, begin - round(0.001 * rate_hz)) :].astype(float)
    grid = log_grid(100.0, min(20_000.0, rate_hz / 2.5), per_octave)
    size = 1 << int(np.ceil(np.log2(len(cut) + rate_hz // 4)))
    spectrum = np.fft.rfft(cut, size)
    hz = np.fft.rfftfreq(size, 1 / rate_hz)
    steps = np.arange(0, periods + 1e-9, 0.25)
    rows = np.empty((len(steps), len(grid)))
    for place, f in enumerate(grid):
        # the analytic response to a Gaussian burst: a Gaussian band-pass on positive frequencies
        width = f / (cycles / 2) * np.log(2) ** 0.5 / np.pi * 2
        band = np.exp(-(((hz - f) / width) ** 2))
        whole = np.zeros(size, complex)
        whole[: len(hz)] = 2 * spectrum * band
        envelope = np.abs(np.fft.ifft(whole))
        peak = int(np.argmax(envelope[: len(cut)]))
        at = peak + steps / f * rate_hz
        found = np.interp(at, np.arange(size // 2), envelope[: size // 2], right=1e-12)
        rows[:, place] = 20 * np.log10(np.maximum(found / max(float(envelope[peak]), 1e-12), 1e-12))
    return Decay(grid, steps, rows, np.full(len(steps), grid[0]), "periods")


def energy_decay(impulse: Numbers) -> Numbers:
    """Schroeder's backward integral in dB, 0 at the start."""
    energy = np.cumsum((impulse.astype(float) ** 2)[::-1])[::-1]
    if energy[0] <= 0:
        raise MeasureError("the impulse response is silent")
    return np.asarray(10 * np.log10(np.maximum(energy / energy[0], 1e-30)))


def _after_onset(impulse: Numbers, rate_hz: int, length_s: float) -> Numbers:
    begin = onset(impulse, rate_hz)
    frames = round(length_s * rate_hz)
    if begin + frames > len(impulse):
        raise MeasureError(
            f"the gate of {1000 * length_s:g} ms is longer than what was recorded after the onset; shorten it"
        )
    lead = min(begin, round(0.0005 * rate_hz))
    return impulse[begin - lead : begin + frames].astype(float)
