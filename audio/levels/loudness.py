"""Loudness and peaks after ITU-R BS.1770-5, EBU Tech 3341 and EBU Tech 3342.

The one module that imports pyloudnorm, for its filter coefficients; windows, gates and peaks are computed
here, because pyloudnorm counts an incomplete last block as if it were full and has neither maxima nor true
peak. It chooses no gains and writes nothing.
"""

from __future__ import annotations

import functools
from array import array
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip, Samples
from ..files import reading
from . import gating
from .channel_layout import weights
from .true_peak import TruePeak, check_finite

# Gain of the 48 kHz filters of ITU-R BS.1770-5 Annex 1 tables 1 and 2 at 997 Hz, computed from the tables.
# The constant -0.691 of the loudness formula cancels it: a full-scale 997 Hz sine in one front channel reads
# -3.01.
CALIBRATION_HZ = 997.0
CALIBRATION_GAIN_DB = 0.69101410
STRETCH_FRAMES = 65_536  # filtered at a time, whatever size of block is fed
# A filter ringing on into digital silence would end in denormal numbers, which are many times slower. 1e-150
# is 3000 dB down, and cannot decay to a denormal within one stretch.
NEGLIGIBLE = 1e-150


@dataclass(frozen=True)
class Loudness:
    """Loudness figures of one sound; a figure that does not exist is None, and `missing` says why.

    `integrated_lufs` is gated; `range_lu` is unstable below a minute (Tech 3342); `momentary_max_lufs` and
    `short_term_max_lufs` are the loudest 0.4 s and 3 s at a hop of 10 ms; `true_peak_dbtp` and
    `sample_peak_dbfs` are over all channels. `missing` maps the name of each figure that is None to its
    reason.
    """

    integrated_lufs: float | None
    range_lu: float | None
    momentary_max_lufs: float | None
    short_term_max_lufs: float | None
    true_peak_dbtp: float | None
    sample_peak_dbfs: float | None
    missing: Mapping[str, str] = field(default_factory=dict)


def measure(clip: Clip, positions: Sequence[str] | None = None) -> Loudness:
    """Loudness of a clip in memory; see `Meter` for what its channels are taken for."""
    meter = Meter(clip.rate_hz, clip.channels, positions)
    meter.feed(clip.samples)
    return meter.result()


def integrated_lufs(clip: Clip, positions: Sequence[str] | None = None) -> float | None:
    """Integrated loudness alone, without the search for true peaks that `measure` makes; None where it has none."""
    meter = Meter(clip.rate_hz, clip.channels, positions)
    check_finite(clip.samples, 0)
    meter._weigh(clip.samples)
    return gating.integrated_lufs(meter._energies(), clip.rate_hz)


def measure_file(path: Path | str, positions: Sequence[str] | None = None) -> Loudness:
    """Loudness of a whole file, read in blocks.

    Raises
    ------
    FileError
        If the file cannot be read as audio.
    MeasureError
        If its channels cannot be told apart.
    """
    info = reading.inspect(path)
    meter = Meter(info.rate_hz, info.channels, positions)
    for block in reading.blocks(path):
        meter.feed(block)
    return meter.result()


class Meter:
    """A loudness meter that is fed in blocks of any size and can be read at any time.

    It keeps 800 bytes for each second heard, and nothing else that grows. The same sound gives the same
    result in whatever blocks it comes.

    One channel counts once: a mono file reads 3.01 LU lower than the same sound in both channels of a stereo
    file (BS.1770 sums channels; it knows no "dual mono").

    Parameters
    ----------
    rate_hz
        Sample rate. The weighting agrees with the standard's 48 kHz response at 997 Hz at every rate;
        elsewhere within 0.02 dB from 44.1 kHz up, 0.06 dB at 22.05 kHz and 0.5 dB at 8 kHz.
    channels
        Number of channels.
    positions
        Which loudspeaker each belongs to: names of `channel_layout.WEIGHTS`. None: the usual order of WAVE
        files: mono; L R; L R C; L R Ls Rs; L R C Ls Rs; L R C LFE Ls Rs; L R C LFE Cb Ls Rs; L R C LFE Lb Rb
        Ls Rs. Side and surround channels weigh 1.41, LFE nothing, all others 1.00 (BS.1770-5 Annex 3).

    Raises
    ------
    MeasureError
        If the positions are unknown or there are more than 8 channels without them.
    """

    def __init__(self, rate_hz: int, channels: int, positions: Sequence[str] | None = None) -> None:
        if rate_hz <= 0 or channels <= 0:
            raise ValueError(f"a meter needs a rate and channels; got {rate_hz} Hz, {channels} channels")
        every = np.array(weights(channels, positions))
        self._counted = np.flatnonzero(every)
        self._weights = every[self._counted]
        self._rate_hz = rate_hz
        self._sections = k_weighting(rate_hz)
        self._state = np.zeros((len(self._sections), 2, self._counted.size))
        self._cells = array("d")
        self._open_cell = 0.0
        self._fed = 0
        self._peaks = TruePeak(rate_hz, channels)

    def feed(self, block: Samples) -> None:
        """Take the next samples, shape (frames, channels), full scale ±1.0.

        Raises
        ------
        MeasureError
            If a sample is not finite; what was fed before stays as it was.
        """
        check_finite(block, self._fed)
        self._peaks.feed(block)
        for start in range(0, block.shape[0], STRETCH_FRAMES):
            self._weigh(block[start : start + STRETCH_FRAMES])

    def result(self) -> Loudness:
        """The figures of everything fed so far."""
        cells = self._energies()
        rate_hz = self._rate_hz
        figures = {
            "integrated_lufs": gating.integrated_lufs(cells, rate_hz),
            "range_lu": gating.range_lu(cells, rate_hz),
            "momentary_max_lufs": _loudest(self.momentary_lufs()),
            "short_term_max_lufs": _loudest(self.short_term_lufs()),
            "true_peak_dbtp": self._peaks.peak_db(),
            "sample_peak_dbfs": self._peaks.sample_peak_db(),
        }
        silent = figures["sample_peak_dbfs"] is None
        missing = {name: self._reason(name, len(cells), silent) for name, value in figures.items() if value is None}
        return Loudness(**figures, missing=missing)

    def momentary_lufs(self) -> NDArray[np.float64]:
        """Momentary loudness (0.4 s windows) every 10 ms from 0.4 s on; -inf in digital silence."""
        return gating.window_lufs(self._energies(), self._rate_hz, gating.MOMENTARY_CELLS)

    def short_term_lufs(self) -> NDArray[np.float64]:
        """Short-term loudness (3 s windows) every 10 ms from 3 s on; -inf in digital silence."""
        return gating.window_lufs(self._energies(), self._rate_hz, gating.SHORT_TERM_CELLS)

    def _energies(self) -> NDArray[np.float64]:
        return np.array(self._cells)  # a copy: a view would forbid the meter to grow

    def _weigh(self, stretch: Samples) -> None:
        """Filter a stretch and add its energy to the cells."""
        import scipy.signal

        self._state[np.abs(self._state) < NEGLIGIBLE] = 0.0
        filtered, self._state = scipy.signal.sosfilt(self._sections, stretch[:, self._counted], axis=0, zi=self._state)
        energy = np.square(filtered) @ self._weights
        edges = gating.cell_edges(
            len(self._cells) + 1, (self._fed + energy.size) * gating.CELLS_A_SECOND // self._rate_hz + 1,
            self._rate_hz,
        ) - self._fed  # fmt: skip
        edges = edges[edges <= energy.size]
        parts = np.add.reduceat(np.append(energy, 0.0), np.concatenate([[0], edges]))
        parts[0] += self._open_cell
        self._cells.extend(parts[:-1].tolist())
        self._open_cell = float(parts[-1])
        self._fed += energy.size

    def _reason(self, name: str, cells: int, silent: bool) -> str:
        if name in ("true_peak_dbtp", "sample_peak_dbfs"):
            return "digital silence: no sample differs from zero"
        least_s = 3.0 if name in ("range_lu", "short_term_max_lufs") else 0.4
        if cells < least_s * gating.CELLS_A_SECOND:
            return f"too short: {self._fed / self._rate_hz:.3f} s, at least {least_s:g} s are needed"
        if silent:
            return "digital silence: no sample differs from zero"
        return f"too quiet: nothing lasts above the gate at {gating.ABSOLUTE_GATE_LUFS:g} LUFS"


def _loudest(levels: NDArray[np.float64]) -> float | None:
    top = float(levels.max()) if levels.size else -np.inf
    return top if np.isfinite(top) else None


@functools.cache
def k_weighting(rate_hz: int) -> NDArray[np.float64]:
    """Second-order sections of the K-weighting filter at this rate, shape (2, 6): shelf, then high-pass.

    pyloudnorm's "DeMan" coefficients, which at 48 kHz are those of BS.1770-5 Annex 1 tables 1 and 2 to 8
    digits (its default class is not), brought to the same gain at 997 Hz at every rate, where pyloudnorm
    drifts by 0.04 dB.
    """
    import pyloudnorm
    import scipy.signal

    filters = pyloudnorm.Meter(rate_hz, filter_class="DeMan")._filters
    sections = np.array(
        [np.concatenate([stage.b, stage.a]) for stage in (filters["high_shelf_DeMan"], filters["high_pass_DeMan"])]
    )
    _, response = scipy.signal.sosfreqz(sections, [CALIBRATION_HZ], fs=rate_hz)
    sections[0, :3] *= 10 ** (CALIBRATION_GAIN_DB / 20) / np.abs(response[0])
    return sections
