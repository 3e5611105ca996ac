"""Rain on Slate: wind that finds a chord, rain, and single drops. It makes samples and writes no files."""

from __future__ import annotations

import numpy as np

from .arithmetic import RATE_HZ, note_hz
from .biquads import Biquad, apply
from .modes import ring
from .noise import generator, wander, white
from .stage import Mono, Stereo, empty, finish, place, room

LENGTH_S = 12.0
_SEED = 5505
_CHORD = (50, 57, 62, 65, 69)  # where the wind whistles: D, A, D, F, A
_DROPS = (74, 77, 79, 81, 84, 86, 89, 91, 93, 96)  # and what the drops sound on
_DROPS_A_SECOND = 8.0


def play() -> Stereo:
    """The piece, shape (frames, 2), full scale ±1.0."""
    rng = generator(_SEED)
    stage = empty(LENGTH_S)
    gust = 0.62 + 0.38 * wander(rng, LENGTH_S, 1.9)
    place(stage, _wind(rng) * gust, 0.0)
    for order, note in enumerate(_CHORD):
        swell = 0.5 + 0.5 * wander(rng, LENGTH_S, 1.3)
        place(stage, 0.5 * _whistle(rng, float(note_hz(note))) * swell * gust, 0.0, 0.06 * (order - 2))
    place(stage, _rain(rng) * (0.75 + 0.25 * wander(rng, LENGTH_S, 0.7)), 0.0)
    for _ in range(round(LENGTH_S * _DROPS_A_SECOND)):
        at_s = 0.1 + (LENGTH_S - 0.8) * float(rng.random())
        place(stage, _drop(rng), at_s, 0.3 * (float(rng.random()) * 2.0 - 1.0))
    wet = room(stage, decay_s=0.8, level_db=-18.0, damping_hz=1800.0)
    return finish(wet, level_db=4.0, fade_in_s=0.9, fade_out_s=1.1)


def _wind(rng: np.random.Generator) -> Mono:
    """Wind: noise that falls off steeply above 200 Hz, with a low breath down to 40 Hz."""
    noise = white(rng, LENGTH_S)
    shaped = (
        Biquad("high-pass", 38.0),
        Biquad("low-pass", 160.0, q=0.5),
        Biquad("peaking", 70.0, gain_db=-2.0, q=1.0),
    )
    return apply(shaped, noise, RATE_HZ)


def _whistle(rng: np.random.Generator, frequency_hz: float) -> Mono:
    """Noise narrowed to a wavering tone, as wind makes in a gap."""
    noise = white(rng, LENGTH_S)
    narrow = (Biquad("peaking", frequency_hz, gain_db=30.0, q=45.0), Biquad("low-pass", frequency_hz, q=3.0))
    return 0.012 * apply((*narrow, Biquad("high-pass", frequency_hz, q=3.0)), noise, RATE_HZ)


def _rain(rng: np.random.Generator) -> Mono:
    """Rain: a faint hiss falling by about 6 dB an octave up to 16 kHz."""
    shaped = (
        Biquad("high-pass", 500.0, q=0.5),
        Biquad("high-shelf", 2500.0, gain_db=-10.0, q=0.5),
        Biquad("high-shelf", 8000.0, gain_db=-6.0, q=0.5),
        Biquad("low-pass", 16500.0),
    )
    return 0.012 * apply(shaped, white(rng, LENGTH_S), RATE_HZ)


def _drop(rng: np.random.Generator) -> Mono:
    """One drop: a short ringing tone with two overtones, mostly soft and now and then nearer."""
    note = _DROPS[int(float(rng.random()) * len(_DROPS))]
    near = float(rng.random())
    strength = 0.01 + 0.11 * near * near * near
    frequency_hz = float(note_hz(note))
    decay_s = 0.12 + 0.25 * float(rng.random())
    return ring(
        0.5,
        frequency_hz * np.array([1.0, 2.76, 5.4]),
        decay_s * np.array([1.0, 0.45, 0.2]),
        strength * np.array([1.0, 0.3, 0.15]),
    )
