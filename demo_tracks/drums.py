"""Barn Door: a drum kit that plays, stops dead twice and goes on. It makes samples and writes no files.

The stops are there to be listened into: for well over 300 ms nothing is left but the room, below −60 dBFS and
yet never digital silence.
"""

from __future__ import annotations

import numpy as np

from .arithmetic import RATE_HZ, exp2, sine
from .biquads import Biquad, apply
from .modes import ring
from .noise import burst, generator, white
from .stage import Mono, Stereo, empty, finish, place, room

LENGTH_S = 12.4
_SEED = 2202
_BEAT_S = 0.57
_SWING = 0.06  # how much later than half the beat its second half comes, in beats

# One row an instrument: beats from the start of the piece, counted from 0, four a bar.
_KICK = (0, 1.5, 2, 4, 5.5, 8, 9.5, 10, 10.5, 12, 13.5, 16, 17.5, 18, 19.5)
_SNARE = (1, 3, 5, 9, 11, 13, 17, 18.5)
_GHOST = (2.5, 3.75, 9.75, 11.25, 16.5)
_HAT = (
    0,
    0.5,
    1,
    1.5,
    2,
    2.5,
    3,
    3.5,
    4,
    4.5,
    5,
    8.5,
    9,
    9.5,
    10,
    10.5,
    11,
    11.5,
    12,
    12.5,
    13,
    16.5,
    17,
    17.5,
)
_HAT_CLOSING = (5.5, 13.5)
_TOMS = ((10.75, 52), (11.5, 47), (11.75, 43), (18.75, 52), (19, 47), (19.25, 43))
_RIDE = (8, 16, 18)
_CRASH = (19.5,)


def play() -> Stereo:
    """The piece, shape (frames, 2), full scale ±1.0."""
    rng = generator(_SEED)
    stage = empty(LENGTH_S)
    for beat in _KICK:
        place(stage, _kick(rng) * _touch(rng, 0.85), _when(rng, beat))
    for beat in _SNARE:
        place(stage, _snare(rng) * _touch(rng, 0.66), _when(rng, beat), 0.04)
    for beat in _GHOST:
        place(stage, _snare(rng) * _touch(rng, 0.09), _when(rng, beat), 0.04)
    for beat in _HAT:
        accent = 0.10 if beat % 1 == 0 else 0.06
        place(stage, _metal(rng, 0.16, 7000.0) * _touch(rng, accent), _when(rng, beat), 0.12)
    for beat in _HAT_CLOSING:
        place(stage, _metal(rng, 0.26, 6500.0) * 0.08, _when(rng, beat), 0.12)
    for beat, note in _TOMS:
        place(stage, _tom(rng, note) * _touch(rng, 0.5), _when(rng, beat), (note - 47) / 40.0)
    for beat in _RIDE:
        place(stage, _metal(rng, 0.75, 4200.0) * 0.045, _when(rng, beat), -0.2)
    for beat in _CRASH:
        place(stage, _metal(rng, 1.5, 3000.0) * 0.11, _when(rng, beat), -0.12)
    air = apply((Biquad("low-pass", 700.0, q=0.6),), white(rng, LENGTH_S), RATE_HZ)
    heard = room(stage, decay_s=0.34, level_db=-15.0, damping_hz=3000.0)
    # The room at rest: far below what anyone hears at a sensible level, and not a single run of zeros.
    heard += 0.0004 * air[:, np.newaxis]
    return finish(heard, level_db=-6.0, fade_out_s=0.5)


def _when(rng: np.random.Generator, beat: float) -> float:
    """Time of a beat in seconds, second halves swung, a few milliseconds early or late."""
    swung = beat + (_SWING if beat % 1 == 0.5 else 0.0)
    return 0.05 + swung * _BEAT_S + 0.004 * (float(rng.random()) * 2.0 - 1.0)


def _touch(rng: np.random.Generator, strength: float) -> float:
    """Strength of a hit, as even as a good drummer's."""
    return strength * (0.9 + 0.2 * float(rng.random()))


def _kick(rng: np.random.Generator) -> Mono:
    """Bass drum: a tone falling from 105 to 46 Hz, and the soft click of the beater."""
    return _falling(105.0, 46.0, 0.03, 0.34) + 0.10 * _pad(
        burst(rng, 0.05, 0.03, (Biquad("peaking", 3200.0, gain_db=8.0), Biquad("low-pass", 6500.0))), 0.34
    )


def _tom(rng: np.random.Generator, note: int) -> Mono:
    """Tom: a tone that falls a little, and the tap of the stick."""
    high_hz = 440.0 * float(exp2((note - 69) / 12.0))
    tap = burst(rng, 0.05, 0.035, (Biquad("high-pass", 900.0), Biquad("low-pass", 9000.0)))
    return 0.8 * _falling(high_hz * 1.25, high_hz, 0.05, 0.36) + 0.12 * _pad(tap, 0.36)


def _falling(from_hz: float, to_hz: float, glide_s: float, length_s: float) -> Mono:
    """A tone whose pitch glides down and which dies away within its length."""
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    # The phase is the integral of to + (from − to) · 2^(−t/glide).
    cycles = to_hz * time_s + (from_hz - to_hz) * glide_s * 1.4426950408889634 * (1.0 - exp2(-time_s / glide_s))
    attack = np.minimum(1.0, time_s / 0.002)
    return np.asarray(sine(cycles) * attack * exp2(-11.5 * time_s / length_s))


def _snare(rng: np.random.Generator) -> Mono:
    """Snare drum: three modes of the skin and the rattle of the wires."""
    skin = ring(0.3, [186.0, 276.0, 331.0], [0.22, 0.16, 0.12], [0.45, 0.25, 0.2])
    wires = burst(
        rng,
        0.3,
        0.24,
        (
            Biquad("high-pass", 450.0),
            Biquad("peaking", 3200.0, gain_db=2.0),
            Biquad("low-pass", 14000.0, q=0.6),
        ),
    )
    return skin + 0.24 * wires


def _metal(rng: np.random.Generator, decay_s: float, low_hz: float) -> Mono:
    """Cymbal: many partials at odd distances over a hiss, both dying away within the decay."""
    count = 36
    frequencies_hz = low_hz * 0.7 + (16500.0 - low_hz * 0.7) * rng.random(count)
    strengths = (rng.random(count) * 2.0 - 1.0) * 0.35
    length_s = 1.3 * decay_s
    tones = ring(length_s, frequencies_hz, decay_s * (0.5 + 0.5 * rng.random(count)), strengths)
    hiss = burst(rng, length_s, decay_s, (Biquad("high-pass", low_hz), Biquad("high-shelf", 12000.0, -3.0)))
    return tones + 0.5 * hiss


def _pad(sound: Mono, length_s: float) -> Mono:
    """The sound with silence after it, up to a length."""
    out = np.zeros(round(length_s * RATE_HZ))
    out[: sound.shape[0]] = sound
    return out
