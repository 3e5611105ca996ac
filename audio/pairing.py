"""Which recordings are of the same music: by name where names agree, by content where they do not."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .alignment.correlation import cross_correlation, padded_size
from .clip import Clip
from .errors import MeasureError
from .files import reading
from .spectrogram import band_powers

SAME_MUSIC = 0.7  # likeness from which two recordings play the same music; see the tests for what lies on either side
HOP_S, WINDOW_S = 0.02, 0.04
LONGEST_LAG_S = 5.0
LOOKED_AT_S = 90.0  # the start of a file is enough to know it by
EDGES_HZ = (100.0, 200.0, 400.0, 800.0, 1600.0, 3200.0, 6400.0, 12800.0)
BELOW_LOUDEST_DB = 60.0  # quieter moments are noise of the chain, not music


@dataclass(frozen=True)
class Pair:
    """Two recordings of the same music, its name, and what paired them."""

    name: str
    a: Path
    b: Path
    by: Literal["name", "content"]


@dataclass(frozen=True)
class Pairing:
    """The pairs, and what found no partner on either side."""

    pairs: tuple[Pair, ...]
    left_a: tuple[Path, ...]
    left_b: tuple[Path, ...]


def pair(files_a: Sequence[Path], files_b: Sequence[Path]) -> Pairing:
    """The recordings of two folders, paired.

    Names are compared without case, spacing, leading track numbers, and words shared by all files of a folder (its
    setup's name, say). What is left over is paired by content, best likeness first overall, if it reaches `SAME_MUSIC`.

    Raises
    ------
    FileError
        If a file that must be compared by content cannot be read.
    """
    plain_a, plain_b = _plain_names(files_a), _plain_names(files_b)
    by_name = {name: path for path, name in plain_b.items() if list(plain_b.values()).count(name) == 1}
    pairs, used_b = [], set()
    for path, name in plain_a.items():
        partner = by_name.get(name)
        if partner is not None and list(plain_a.values()).count(name) == 1:
            pairs.append(Pair(path.stem, path, partner, "name"))
            used_b.add(partner)
    paired_a = {found.a for found in pairs}
    left_a = [path for path in files_a if path not in paired_a]
    left_b = [path for path in files_b if path not in used_b]
    pairs += _by_content(left_a, left_b)
    known_a, known_b = {found.a for found in pairs}, {found.b for found in pairs}
    order = {path: place for place, path in enumerate(files_a)}
    return Pairing(
        tuple(sorted(pairs, key=lambda found: order[found.a])),
        tuple(path for path in files_a if path not in known_a),
        tuple(path for path in files_b if path not in known_b),
    )


def same_music(clip_a: Clip, clip_b: Clip) -> float:
    """How alike two recordings are as music, 0 to 1: 1 for the same piece through any two loudspeakers.

    The rises and falls of the level in seven octave bands are correlated at every lag up to 5 s (a quarter of a
    short clip); levels, tone colour and a constant offset do not matter.

    Raises
    ------
    MeasureError
        If a clip is shorter than one second or silent.
    """
    return _likeness(_movements(clip_a), _movements(clip_b))


def _by_content(left_a: Sequence[Path], left_b: Sequence[Path]) -> list[Pair]:
    if not left_a or not left_b:
        return []
    from scipy.optimize import linear_sum_assignment

    movements_a = [_movements(_start(path)) for path in left_a]
    movements_b = [_movements(_start(path)) for path in left_b]
    alike = np.array([[_likeness(one, other) for other in movements_b] for one in movements_a])
    rows, columns = linear_sum_assignment(-alike)
    return [
        Pair(left_a[row].stem, left_a[row], left_b[column], "content")
        for row, column in zip(rows, columns, strict=True)
        if alike[row, column] >= SAME_MUSIC
    ]


def _start(path: Path) -> Clip:
    info = reading.inspect(path)
    return reading.read(path, 0, min(info.frames, round(LOOKED_AT_S * info.rate_hz)))


def _movements(clip: Clip) -> NDArray[np.float64]:
    """The change of each band's level from step to step, standardised; shape (steps, bands).

    Slow changes only are kept apart from the noise: levels are floored 60 dB under the band's loudest step.
    """
    if clip.length_s < 1.0:
        raise MeasureError(f"a clip of {clip.length_s:.2f} s is too short to know its music by; 1 s is needed")
    levels = 10 * np.log10(band_powers(clip, EDGES_HZ, HOP_S, WINDOW_S))
    if levels.max() < -120:
        raise MeasureError("a silent clip has no music to know it by")
    floored = np.maximum(levels, levels.max(axis=0, keepdims=True) - BELOW_LOUDEST_DB)
    moved = floored[2:] - floored[:-2]
    spread = moved.std(axis=0, keepdims=True)
    return np.where(spread > 0, (moved - moved.mean(axis=0, keepdims=True)) / np.where(spread > 0, spread, 1), 0.0)


def _likeness(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    steps = min(one.shape[0], other.shape[0])
    alive = (np.abs(one).max(axis=0) > 0) & (np.abs(other).max(axis=0) > 0)
    if not alive.any():
        return 0.0
    across = cross_correlation(one[:, alive], other[:, alive], padded_size(one.shape[0], other.shape[0]))
    reach = min(round(LONGEST_LAG_S / HOP_S), steps // 4)
    lags = np.concatenate([np.arange(reach + 1), np.arange(-reach, 0)])
    shared = steps - np.abs(lags)
    return float(np.clip(np.max(across[lags] / shared), 0.0, 1.0))


def _plain_names(paths: Sequence[Path]) -> dict[Path, str]:
    """Each file's name as its words, without leading numbers and without words that all of several files share."""
    words = {path: _words(path) for path in paths}
    if len(paths) > 1:
        shared = set.intersection(*(set(parts) for parts in words.values()))
        words = {path: [part for part in parts if part not in shared] or parts for path, parts in words.items()}
    return {path: " ".join(parts) for path, parts in words.items()}


def _words(path: Path) -> list[str]:
    folder = set(_split(path.parent.name))
    parts = _split(path.stem)
    if len(parts) > 1 and parts[0].isdigit():
        parts = parts[1:]
    return [part for part in parts if part not in folder] or parts


def _split(name: str) -> list[str]:
    """The words of a name without case; some systems store an accent as a character of its own, others do not."""
    plain = unicodedata.normalize("NFC", name).casefold()
    return [part for part in re.split(r"[\W_]+", plain) if part]
