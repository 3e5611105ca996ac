"""Evening Over the Ford: a slow melody for a singing voice and a second below it. It makes samples, no files."""

from __future__ import annotations

import numpy as np

from .noise import generator
from .singing import Sung, sing
from .stage import Stereo, empty, finish, place, room

LENGTH_S = 12.1
_SEED = 3303
_BEAT_S = 0.70

# (beat, beats, note number, vowel, strength)
_UPPER = (
    (0, 1.5, 57, "a", 0.7),
    (1.5, 0.5, 60, "a", 0.75),
    (2, 1, 64, "o", 0.9),
    (3, 1, 62, "o", 0.8),
    (4, 1.5, 60, "e", 0.85),
    (5.5, 0.5, 59, "e", 0.75),
    (6, 1.7, 57, "a", 0.7),
    (8, 1, 60, "o", 0.8),
    (9, 1, 64, "i", 0.9),
    (10, 1.5, 67, "a", 1.0),
    (11.5, 0.5, 65, "a", 0.9),
    (12, 1, 64, "o", 0.85),
    (13, 0.9, 59, "u", 0.75),
    (14, 2, 57, "a", 0.7),
)
_LOWER = (
    (0, 2, 45, "o", 0.8),
    (2, 1, 48, "o", 0.8),
    (3, 1, 50, "o", 0.8),
    (4, 2, 53, "u", 0.85),
    (6, 1.7, 45, "o", 0.8),
    (8, 2, 48, "o", 0.85),
    (10, 1.5, 52, "a", 0.9),
    (11.5, 0.5, 50, "a", 0.85),
    (12, 1, 48, "o", 0.85),
    (13, 0.9, 43, "o", 0.85),
    (14, 2, 45, "o", 0.75),
)


def play() -> Stereo:
    """The piece, shape (frames, 2), full scale ±1.0."""
    rng = generator(_SEED)
    stage = empty(LENGTH_S)
    for rows, strength, pan, breath in ((_UPPER, 1.0, 0.0, 0.0008), (_LOWER, 0.75, 0.0, 0.0005)):
        line = [_sung(rng, *row) for row in rows]
        place(stage, strength * sing(rng, line, LENGTH_S, breath), 0.0, pan)
    return finish(room(stage, decay_s=1.3, level_db=-14.0, damping_hz=2000.0), level_db=-16.0)


def _sung(rng: np.random.Generator, beat: float, beats: float, note: int, vowel: str, strength: float) -> Sung:
    """A note of the table at its time, a little early or late, as singers are."""
    early_s = 0.012 * (float(rng.random()) * 2.0 - 1.0)
    return Sung(0.08 + beat * _BEAT_S + early_s, beats * _BEAT_S - 0.03, note, vowel, strength)
