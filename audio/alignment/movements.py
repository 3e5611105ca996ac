"""How the level of music rises and falls in octave bands: what a recording is known by, at any lag, coarsely.

Levels, tone colour and a constant offset do not matter to it. A file is read once, in bounded memory; of an hour of
music 6 MB are kept.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip, Samples, not_finite
from ..errors import MeasureError, SilentError
from ..files import reading
from ..spectrogram import powers_at

HOP_S, WINDOW_S = 0.02, 0.04
EDGES_HZ = (100.0, 200.0, 400.0, 800.0, 1600.0, 3200.0, 6400.0, 12800.0)
BELOW_LOUDEST_DB = 60.0  # quieter moments are noise of the chain, not music
SILENT_DB = -120.0
SHORTEST_S = 1.0


@dataclass(frozen=True, eq=False)
class Movements:
    """The change of each band's level from step to step, standardised, and how loud each step is.

    Attributes
    ----------
    moved
        Shape (steps, bands), every `HOP_S`; 0 where a band has nothing.
    loud_db
        The level of each step below the loudest, all bands together; shape (steps,).
    length_s
        The whole recording's length in seconds.
    """

    moved: NDArray[np.float32]
    loud_db: NDArray[np.float32]
    length_s: float


def of_clip(clip: Clip) -> Movements:
    """The movements of a clip in memory.

    Raises
    ------
    MeasureError
        If it is shorter than one second, silent, or holds samples that are not numbers.
    """
    if not_finite(clip.samples) is not None:
        raise MeasureError("a recording holds samples that are not numbers; export the file again")
    return _standardised(_band_powers([clip.samples], clip.frames, clip.rate_hz), clip.length_s, "a clip")


def of_file(path: Path) -> Movements:
    """The movements of a whole file, read in turn.

    Raises
    ------
    FileError
        If it cannot be read.
    MeasureError
        If it is shorter than one second, or silent.
    """
    status = path.stat() if path.exists() else None
    return _of_file(path, *((status.st_size, status.st_mtime_ns) if status else (0, 0)))


@functools.lru_cache(maxsize=64)
def _of_file(path: Path, _size: int, _changed: int) -> Movements:
    """As `of_file`; size and time of change make the remembered answer expire with the file."""
    info = reading.inspect(path)
    return _standardised(_band_powers(reading.blocks(path), info.frames, info.rate_hz), info.length_s, str(path))


def _standardised(powers: NDArray[np.float64], length_s: float, what: str) -> Movements:
    """Slow changes only are kept apart from the noise: levels are floored 60 dB under the band's loudest step."""
    if length_s < SHORTEST_S:
        raise MeasureError(f"{what} of {length_s:.2f} s is too short to know its music by; {SHORTEST_S:g} s is needed")
    levels = 10 * np.log10(powers)
    if levels.max() < SILENT_DB:
        raise SilentError(f"{what} is silent and has no music to know it by")
    floored = np.maximum(levels, levels.max(axis=0, keepdims=True) - BELOW_LOUDEST_DB)
    moved = np.zeros_like(floored)
    moved[1:-1] = floored[2:] - floored[:-2]
    inner = moved[1:-1]
    spread = inner.std(axis=0, keepdims=True)
    alive = spread > 0
    moved[1:-1] = np.where(alive, (inner - inner.mean(axis=0, keepdims=True)) / np.where(alive, spread, 1), 0.0)
    whole = 10 * np.log10(powers.sum(axis=1))
    return Movements(moved.astype(np.float32), (whole - whole.max()).astype(np.float32), length_s)


def _band_powers(blocks: Iterable[Samples], frames: int, rate_hz: int) -> NDArray[np.float64]:
    """The power in each band at each step, all channels together; shape (steps, bands).

    Each step starts at the frame nearest to its own time, so that recordings of unlike rates stay in step.
    """
    window, hop = round(WINDOW_S * rate_hz), HOP_S * rate_hz
    starts = np.rint(np.arange(int(max(frames - window, 0) / hop) + 1) * hop).astype(np.int64)
    whole = starts[starts + window <= frames]
    return powers_at(blocks, rate_hz, EDGES_HZ, whole if whole.size else starts[:1], window, coarse=True)
