"""Which recordings are of the same music: by name where names agree, by content where they do not."""

from __future__ import annotations

import contextlib
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from .alignment import coarse, coherence, movements, track
from .clip import Clip
from .errors import MeasureError

SAME_MUSIC = 0.7  # likeness from which two recordings play the same music; see the tests for what lies on either side
MAYBE = 0.3  # likeness from which it is worth a closer look: a room hides how levels move, and not the performance


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
    """How alike two recordings are as music, 0 to 1: near 1 for the same piece through any two loudspeakers.

    The rises and falls of the level in seven octave bands are correlated at every lag; levels, tone colour and a
    constant offset do not matter.

    Raises
    ------
    MeasureError
        If a clip is shorter than one second or silent.
    """
    return coarse.likeness(movements.of_clip(clip_a), movements.of_clip(clip_b))


def same_performance(clip_a: Clip, clip_b: Clip) -> bool:
    """Whether two clips in step hold the same performance, whatever room or equaliser lies between them."""
    frames = min(clip_a.frames, clip_b.frames)
    if clip_a.rate_hz != clip_b.rate_hz or frames == 0:
        return False
    loudest = int(np.argmax(np.sum(np.square(clip_a.samples[:frames]), axis=0)))
    own = clip_a.samples[:frames, loudest]
    return any(
        coherence.coherence(own, clip_b.samples[:frames, channel], clip_a.rate_hz) >= coherence.SAME
        for channel in range(clip_b.channels)
    )


def _by_content(left_a: Sequence[Path], left_b: Sequence[Path]) -> list[Pair]:
    if not left_a or not left_b:
        return []
    from scipy.optimize import linear_sum_assignment

    known_a, known_b = _movements(left_a), _movements(left_b)
    if not known_a or not known_b:
        return []
    left_a, left_b = list(known_a), list(known_b)
    moved_a, moved_b = list(known_a.values()), list(known_b.values())
    alike = np.array([[coarse.likeness(one, other) for other in moved_b] for one in moved_a])
    rows, columns = linear_sum_assignment(-alike)
    return [
        Pair(left_a[row].stem, left_a[row], left_b[column], "content")
        for row, column in zip(rows, columns, strict=True)
        if alike[row, column] >= SAME_MUSIC
        or (alike[row, column] >= MAYBE and _same_by_closer_look(left_a[row], left_b[column]))
    ]


def _movements(paths: Sequence[Path]) -> dict[Path, movements.Movements]:
    """Of each file that has any: what is silent or too short to be known finds no partner."""
    found = {}
    for path in paths:
        with contextlib.suppress(MeasureError):
            found[path] = movements.of_file(path)
    return found


def _same_by_closer_look(one: Path, other: Path) -> bool:
    laid = track.align_files(one, other)
    return laid is not None and laid.found


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
