"""Hedge Path: a slow tune in six-eight for plucked strings. It makes samples and writes no files."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .arithmetic import RATE_HZ, cosine, note_hz, sine
from .biquads import Biquad, apply
from .modes import HIGHEST_HZ, ring
from .noise import burst, generator
from .stage import Mono, Stereo, empty, finish, place, room

LENGTH_S = 12.3
_SEED = 1101
_EIGHTH_S = 0.274
_END_BAR = 6

# One row a bar: (eighth, note number) for the bass, the inner voices and the tune.
_BASS = (
    ((0, 38), (3, 45)),
    ((0, 47), (3, 42)),
    ((0, 43), (3, 38)),
    ((0, 40), (3, 45)),
    ((0, 42), (3, 38)),
    ((0, 43), (3, 33)),
)
_INNER = (
    ((1, 57), (2, 62), (4, 57), (5, 66)),
    ((1, 54), (2, 62), (4, 57), (5, 61)),
    ((1, 55), (2, 62), (4, 59), (5, 62)),
    ((1, 55), (2, 59), (4, 57), (5, 64)),
    ((1, 57), (2, 62), (4, 57), (5, 62)),
    ((1, 59), (2, 62), (4, 57), (5, 61)),
)
_TUNE = (
    ((0, 69), (2, 71), (3, 74)),
    ((0, 73), (3, 69), (5, 66)),
    ((0, 71), (2, 74), (3, 78)),
    ((0, 76), (3, 74), (4, 73)),
    ((0, 74), (3, 69), (5, 66)),
    ((0, 67), (2, 71), (3, 69), (4, 64)),
)
_LAST_CHORD = (38, 45, 50, 57, 62, 66, 74)


def play() -> Stereo:
    """The piece, shape (frames, 2), full scale ±1.0."""
    rng = generator(_SEED)
    stage = empty(LENGTH_S)
    for rows, strength, pan in ((_BASS, 1.0, -0.08), (_INNER, 0.5, 0.10), (_TUNE, 0.85, 0.02)):
        for bar, row in enumerate(rows):
            swell = 0.85 + 0.06 * min(bar, 3)
            for eighth, note in row:
                at_s = 0.06 + (6 * bar + eighth) * _EIGHTH_S + 0.010 * float(rng.random())
                touch = strength * swell * (0.88 + 0.24 * float(rng.random()))
                place(stage, _pluck(rng, note, touch), at_s, pan)
    for order, note in enumerate(_LAST_CHORD):
        at_s = 0.10 + 6 * _END_BAR * _EIGHTH_S + 0.034 * order
        place(stage, _pluck(rng, note, 0.75, length_s=2.8), at_s, 0.03 * (order - 3))
    body = (
        Biquad("peaking", 98.0, gain_db=4.0, q=2.5),
        Biquad("peaking", 205.0, gain_db=3.0, q=3.0),
        Biquad("peaking", 420.0, gain_db=-2.0, q=1.5),
        Biquad("peaking", 2600.0, gain_db=2.0, q=0.8),
    )
    heard = apply(body, stage, RATE_HZ)
    return finish(room(heard, decay_s=0.9, level_db=-17.0, damping_hz=2500.0), level_db=-20.0, fade_out_s=0.9)


def _pluck(rng: np.random.Generator, note: int, touch: float, length_s: float = 2.1) -> Mono:
    """One plucked note: partials of a stiff string, beating gently with their twins, and the nail's tick."""
    fundamental_hz = float(note_hz(note))
    number = np.arange(1, int(HIGHEST_HZ / fundamental_hz) + 1, dtype=np.float64)[:48]
    stretched = number * np.sqrt(1.0 + 0.00007 * number * number)
    # A string plucked at a fraction p of its length has partials sin(n π p) / n², softened by the finger.
    place_along = 0.19 + 0.04 * float(rng.random())
    strengths = touch * _plucked(number, place_along) / (1.0 + number / 14.0)
    decays_s = 3.4 / (1.0 + fundamental_hz / 700.0) / (1.0 + 0.16 * number)
    frequencies_hz = fundamental_hz * stretched
    both = ring(
        length_s,
        np.concatenate([frequencies_hz, frequencies_hz[:12] * 1.0006]),
        np.concatenate([decays_s, decays_s[:12] * 1.6]),
        np.concatenate([strengths, 0.35 * strengths[:12]]),
    )
    tick = burst(rng, 0.05, 0.035, (Biquad("high-pass", 1800.0), Biquad("low-pass", 15500.0, q=0.6)))
    both[: tick.shape[0]] += 0.010 * touch * tick
    rise = round(0.0012 * RATE_HZ)
    both[:rise] *= 0.5 - 0.5 * cosine(np.arange(rise) / (2.0 * rise))
    return both


def _plucked(number: NDArray[np.float64], place_along: float) -> NDArray[np.float64]:
    """Strengths of the partials of an ideal string plucked at `place_along`, as heard from its velocity."""
    return np.asarray(sine(number * place_along * 0.5) / number)
