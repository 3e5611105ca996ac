"""How a response dies away: cumulative spectral decay, burst decay in periods, energy decay. Pure.

Both decays see what lies within the gate and nothing else; what is looked at fades out over its last quarter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import MeasureError
from .curve import Numbers, log_grid
from .gate import onset

FADED = 0.25  # of what is looked at, at its end; our choice
FOLLOWED = 0.6  # of the gate: a cumulative decay's last slice; what is left then resolves 2.5 times less than all
HIGHEST_HZ = 20_000.0
SMEARED = 1.0  # of a rise's inverse: so far from an edge of the band it still shows, within some 40 dB of it
EDGE_PER_OCTAVE = 3.0  # of a band whose fall is timed: from nothing to all of it in a third of an octave
LOWEST_BURST_HZ, HIGHEST_LOWEST_BURST_HZ = 20.0, 100.0


@dataclass(frozen=True)
class Sought:
    """What a cumulative decay is to show, and what follows for it.

    Attributes
    ----------
    longest_s
        The window: as long as such a thing rings, and no longer than the gate.
    low_hz, high_hz
        Where such things lie.
    rise_s
        Over which each later slice is faded in: short against what is sought.
    per_octave
        Frequencies: such resonances are as narrow as this at least.
    moving
        Whether a slice's end moves with its beginning. Then all slices resolve alike, and what rings about as long as
        the window falls as fast as it really does; with a fixed end more is seen of what is over early.
    """

    longest_s: float
    low_hz: float
    high_hz: float
    rise_s: float
    per_octave: int
    moving: bool

    def window_s(self, gate_s: float) -> float:
        """The length of the window within a gate."""
        return min(self.longest_s, gate_s)


DRIVERS = Sought(
    0.012, 100.0, HIGHEST_HZ, 0.0002, 24, moving=False
)  # cones and domes that break up ring for milliseconds
CABINET = Sought(0.2, 40.0, 2000.0, 0.002, 48, moving=True)  # panels and air ring for up to 0.2 s, below 2 kHz
LOOKED_FOR = {"drivers": DRIVERS, "cabinet": CABINET}


@dataclass(frozen=True, eq=False)
class Decay:
    """Level in dB (0: the loudest) against frequency and time or periods; shape of `level_db`: (slices, frequencies).

    `valid_from_hz` holds, for each slice, the lowest frequency that what is left of the gate can resolve, `valid_to_hz`
    the highest that its beginning does not smear over the end of what was measured (None: all).
    """

    hz: Numbers
    steps: Numbers
    level_db: Numbers
    valid_from_hz: Numbers
    unit: str
    valid_to_hz: Numbers | None = None


def cumulative(
    impulse: Numbers,
    rate_hz: int,
    length_s: float,
    sought: Sought = DRIVERS,
    slices: int = 40,
    highest_hz: float | None = None,
) -> Decay:
    """The cumulative spectral decay: the spectrum of what is left from τ on, in steps (Bunton and Small 1982).

    Where the window's end stays fixed later slices resolve less at low frequencies; `valid_from_hz` says from where.

    Parameters
    ----------
    length_s
        Of the window, after the onset.
    highest_hz
        Where what was measured ends (None: with the rate's half). The end of a band rings by itself, and each slice
        but the first shows that as far below it as its rise smears: by 1/`rise_s`.

    Raises
    ------
    MeasureError
        If the window is longer than the response.
    """
    cut = _cut(impulse, rate_hz, length_s)
    begin, frames = onset(cut, rate_hz), len(cut)
    size = 1 << int(np.ceil(np.log2(max(frames * 4, 4096))))
    grid = log_grid(sought.low_hz, min(sought.high_hz, rate_hz / 2.2), sought.per_octave)
    hz = np.fft.rfftfreq(size, 1 / rate_hz)
    rise = max(2, round(sought.rise_s * rate_hz))
    last = (frames - begin) * FOLLOWED
    steps = np.linspace(0, last / rate_hz, slices)
    rows, lengths = [], []
    for tau in steps:
        at = begin + round(tau * rate_hz)
        end = min(frames, at + round(frames - begin - last)) if sought.moving else frames
        window = np.zeros(frames)
        window[at:end] = 1
        if tau > 0:
            ramp = slice(max(0, at - rise), at)
            window[ramp] = 0.5 - 0.5 * np.cos(np.pi * np.arange(at - ramp.start) / max(at - ramp.start, 1))
        else:
            window[:at] = 1
        window[:end] *= _fade(end, round(FADED * (end - at if sought.moving else frames)))
        spectrum = np.abs(np.fft.rfft(cut * window, size))
        rows.append(20 * np.log10(np.maximum(np.interp(grid, hz, spectrum), 1e-12)))
        lengths.append(end - at)
    level = np.array(rows)
    end_hz = min(highest_hz or rate_hz / 2, rate_hz / 2)
    valid_to = end_hz - np.where(steps > 0, SMEARED / sought.rise_s, 0.0)
    return Decay(grid, steps, level - level.max(), rate_hz / np.array(lengths), "s", valid_to)


def burst(
    impulse: Numbers, rate_hz: int, length_s: float, cycles: float = 4.0, periods: int = 30, per_octave: int = 12
) -> Decay:
    """The burst decay: the envelope of the response to shaped bursts of a few cycles, against periods (Linkwitz 1980).

    After k periods a frequency is valid where these and half a burst lie within what the gate leaves unfaded.

    Parameters
    ----------
    length_s
        The gate.
    cycles
        Length of the burst, between its half-amplitude points; its envelope is a Gaussian.

    Raises
    ------
    MeasureError
        If the gate is longer than the response.

    Notes
    -----
    An envelope exp(−(t/τ)²) is at one half at t = ±τ·√ln 2, so that n cycles at f are τ = n/(2f·√ln 2); its spectrum is
    exp(−((f′ − f)/w)²) with w = 1/(πτ) = 2f·√ln 2/(πn).
    """
    cut = _cut(impulse, rate_hz, length_s)
    cut *= _fade(len(cut), round(FADED * length_s * rate_hz))
    whole_s = (1 - FADED) * length_s
    steps = np.arange(0, periods + 1e-9, 0.25)
    valid_from = (steps + cycles / 2) / whole_s
    lowest = max(LOWEST_BURST_HZ, min(HIGHEST_LOWEST_BURST_HZ, float(valid_from[0])))
    grid = log_grid(lowest, min(HIGHEST_HZ, rate_hz / 2.5), per_octave)
    size = 1 << int(np.ceil(np.log2(len(cut) + 2 * cycles / lowest * rate_hz)))
    spectrum = np.fft.rfft(cut, size)
    hz = np.fft.rfftfreq(size, 1 / rate_hz)
    rows = np.empty((len(steps), len(grid)))
    for place, f in enumerate(grid):
        # the analytic response to a Gaussian burst: a Gaussian band-pass on positive frequencies
        width = 2 * f * np.log(2) ** 0.5 / (np.pi * cycles)
        band = np.exp(-(((hz - f) / width) ** 2))
        whole = np.zeros(size, complex)
        whole[: len(hz)] = 2 * spectrum * band
        envelope = np.abs(np.fft.ifft(whole))
        peak = int(np.argmax(envelope[: len(cut)]))
        at = peak + steps / f * rate_hz
        found = np.interp(at, np.arange(size // 2), envelope[: size // 2], right=1e-12)
        rows[:, place] = 20 * np.log10(np.maximum(found / max(float(envelope[peak]), 1e-12), 1e-12))
    return Decay(grid, steps, rows, valid_from, "periods")


def energy_decay(impulse: Numbers) -> Numbers:
    """Schroeder's backward integral in dB, 0 at the start."""
    energy = np.cumsum((impulse.astype(float) ** 2)[::-1])[::-1]
    if energy[0] <= 0:
        raise MeasureError("the impulse response is silent")
    return np.asarray(10 * np.log10(np.maximum(energy / energy[0], 1e-30)))


def band_fall_s(
    impulse: Numbers, rate_hz: int, length_s: float, band_hz: tuple[float, float], fall_db: float = 20.0
) -> float | None:
    """How long after its onset the energy still to come in a band has fallen so far, s; None where the gate is shorter.

    Told is only what is over within `FOLLOWED` of the gate, whose end lacks what would have come after it.

    Parameters
    ----------
    length_s
        The gate.
    band_hz
        Its edges, where it is half as high; it rises and falls over a third of an octave, and rings by that itself.

    Raises
    ------
    MeasureError
        If the gate is longer than the response, or the band holds nothing.
    """
    cut = _cut(impulse, rate_hz, length_s)
    begin, size = onset(cut, rate_hz), 1 << int(np.ceil(np.log2(2 * len(cut))))
    hz = np.fft.rfftfreq(size, 1 / rate_hz)
    octaves = np.log2(np.maximum(hz, 1e-3))
    edges = [np.clip(0.5 + EDGE_PER_OCTAVE * side * (octaves - np.log2(edge)), 0, 1)
             for side, edge in zip((1, -1), band_hz, strict=True)]  # fmt: skip
    weight = np.prod([0.5 - 0.5 * np.cos(np.pi * edge) for edge in edges], axis=0)
    level = energy_decay(np.fft.irfft(np.fft.rfft(cut, size) * weight, size)[begin : len(cut)])
    fallen = np.flatnonzero(level <= -fall_db)
    if not len(fallen) or fallen[0] > FOLLOWED * length_s * rate_hz:
        return None
    return float(fallen[0] / rate_hz)


def _cut(impulse: Numbers, rate_hz: int, length_s: float) -> Numbers:
    """The response from shortly before its onset to the gate's end."""
    begin = onset(impulse, rate_hz)
    frames = round(length_s * rate_hz)
    if begin + frames > len(impulse):
        raise MeasureError(
            f"the gate of {1000 * length_s:g} ms is longer than what was recorded after the onset; shorten it"
        )
    lead = min(begin, round(0.0005 * rate_hz))
    return impulse[begin - lead : begin + frames].astype(float)


def _fade(frames: int, end: int) -> Numbers:
    """A window of so many frames that fades out over its last ones."""
    made = np.ones(frames)
    made[frames - end :] = 0.5 + 0.5 * np.cos(np.pi * np.arange(1, end + 1) / max(end, 1))
    return made
