"""Loudness and peaks after ITU-R BS.1770-5, EBU Tech 3341 and EBU Tech 3342.

One pass over the sound: weighted, squared and summed into cells of 10 ms (`k_weighting`, `gating`), and searched for
its true peak (`true_peak`). It chooses no gains and writes nothing.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .. import parallel
from ..clip import Clip, Samples
from ..files import reading
from ..files.file_info import FileInfo
from . import channel_layout, gating
from .k_weighting import STRETCH_FRAMES, KWeighting
from .true_peak import TruePeak, check_finite

WORTH_PROCESSES_BYTES = 4_000_000  # of files together: the start of processes takes as long as measuring so much


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
    meter = Meter(clip.rate_hz, clip.channels, positions or channel_layout.positions(clip.channels, clip.channel_mask))
    meter.feed(clip.samples)
    return meter.result()


def integrated_lufs(clip: Clip, positions: Sequence[str] | None = None) -> float | None:
    """Integrated loudness alone, for matching: no true peaks, and the absolute gate follows a quiet clip down.

    None where it has none. Where a clip is not quieter than -23 LUFS it is that of `measure`.
    """
    meter = Meter(clip.rate_hz, clip.channels, positions or channel_layout.positions(clip.channels, clip.channel_mask))
    check_finite(clip.samples, 0)
    meter._weigh(clip.samples)
    return gating.integrated_lufs(meter._energies(), clip.rate_hz, normalised=True)


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
    meter = Meter(info.rate_hz, info.channels, positions or channel_layout.positions(info.channels, info.channel_mask))
    for block in reading.blocks(path):
        meter.feed(block)
    return meter.result()


def measure_files(paths: Sequence[Path]) -> Iterator[tuple[FileInfo, Loudness]]:
    """Each file's facts and loudness, in their order; several files by several processes, where that is quicker.

    Raises
    ------
    FileError, MeasureError
        As `measure_file`, when the turn of that file comes.
    ProcessError
        If a process was ended from outside.
    """
    total_bytes = sum(path.stat().st_size for path in paths if path.is_file())
    yield from parallel.each(_facts_and_loudness, paths, most=None if total_bytes >= WORTH_PROCESSES_BYTES else 1)


def _facts_and_loudness(path: Path) -> tuple[FileInfo, Loudness]:
    return reading.inspect(path), measure_file(path)


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
        every = np.array(channel_layout.weights(channels, positions))
        self._counted = np.flatnonzero(every)
        self._weights = every[self._counted]
        self._rate_hz = rate_hz
        self._filter = KWeighting(rate_hz, self._counted.size)
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
        self._peaks.feed(block)  # refuses what is no number
        self._weigh(block)

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

    def _weigh(self, block: Samples) -> None:
        """Filter a block and add its energy to the cells."""
        counted = block if self._counted.size == block.shape[1] else block[:, self._counted]
        for start in range(0, block.shape[0], STRETCH_FRAMES):
            stretch = counted[start : start + STRETCH_FRAMES]
            filtered = self._filter.feed(stretch)
            self._add(np.square(filtered, out=filtered), stretch.shape[0])

    def _add(self, powers: Samples, frames: int) -> None:
        """The powers of the next frames, shape (counted channels, frames), summed into cells."""
        edges = gating.cell_edges(
            len(self._cells) + 1, (self._fed + frames) * gating.CELLS_A_SECOND // self._rate_hz + 1, self._rate_hz
        ) - self._fed  # fmt: skip
        starts = np.concatenate([[0], edges[edges < frames]])
        parts = self._weights @ np.add.reduceat(powers, starts, axis=1)
        parts[0] += self._open_cell
        if edges[starts.size - 1] == frames:
            parts = np.append(parts, 0.0)
        self._cells.extend(parts[:-1].tolist())
        self._open_cell = float(parts[-1])
        self._fed += frames

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
