"""Mill Wheel: dense chords, struck and held, over a deep bass. It makes samples and writes no files."""

from __future__ import annotations

import numpy as np

from .arithmetic import RATE_HZ, cosine, note_hz
from .biquads import Biquad, apply
from .harmonics import harmonics
from .modes import HIGHEST_HZ, ring
from .noise import burst, generator, wander
from .stage import Mono, Stereo, empty, finish, place, room

LENGTH_S = 12.2
_SEED = 4404
_BEAT_S = 0.665
_BAR_BEATS = 4

# One row a bar: the bass note on the first and third beat, and the notes of the chord.
_BARS = (
    ((28, 35), (52, 55, 59, 62, 66, 71)),
    ((36, 31), (52, 55, 59, 62, 67, 71)),
    ((33, 40), (48, 55, 60, 62, 67, 72)),
    ((35, 30), (54, 57, 59, 64, 69, 73)),
)
_LAST = (28, (52, 55, 59, 64, 67, 71, 78))
_HITS = ((0, 1.0), (1.5, 0.7), (3, 0.8))  # beat in the bar, strength


def play() -> Stereo:
    """The piece, shape (frames, 2), full scale ±1.0."""
    rng = generator(_SEED)
    stage = empty(LENGTH_S)
    for bar, (bass, chord) in enumerate(_BARS):
        start_s = 0.06 + bar * _BAR_BEATS * _BEAT_S
        for half, note in enumerate(bass):
            place(stage, 0.6 * _bass(note, 2.0 * _BEAT_S), start_s + 2 * half * _BEAT_S)
        for order, note in enumerate(chord):
            held = 0.055 * _held(rng, note, _BAR_BEATS * _BEAT_S)
            place(stage, held, start_s, 0.03 * (order - 2.5))
        for beat, strength in _HITS:
            _strike(rng, stage, chord, start_s + beat * _BEAT_S, strength * (0.9 + 0.05 * bar))
    end_s = 0.06 + len(_BARS) * _BAR_BEATS * _BEAT_S
    place(stage, 0.6 * _bass(_LAST[0], 1.5), end_s)
    _strike(rng, stage, _LAST[1], end_s, 0.9)
    wood = (Biquad("peaking", 160.0, gain_db=-2.0, q=0.8), Biquad("high-shelf", 5000.0, gain_db=2.0))
    heard = apply(wood, stage, RATE_HZ)
    return finish(room(heard, decay_s=0.9, level_db=-17.0, damping_hz=2200.0), level_db=-15.0, fade_out_s=0.8)


def _strike(rng: np.random.Generator, stage: Stereo, chord: tuple[int, ...], at_s: float, strength: float) -> None:
    """Nothing; adds the chord to the stage, struck from below upwards within some 30 ms."""
    for order, note in enumerate(chord):
        touch = 0.42 * strength * (0.85 + 0.3 * float(rng.random()))
        later_s = 0.006 * order + 0.006 * float(rng.random())
        place(stage, _struck(rng, note, touch), at_s + later_s, 0.03 * (order - 2.5))


def _struck(rng: np.random.Generator, note: int, touch: float) -> Mono:
    """One struck note: partials of a stiff bar of strings, and the knock of the hammer."""
    fundamental_hz = float(note_hz(note))
    number = np.arange(1, int(HIGHEST_HZ / fundamental_hz) + 1, dtype=np.float64)[:40]
    frequencies_hz = fundamental_hz * number * np.sqrt(1.0 + 0.0004 * number * number)
    hammer = 1.0 / (number * (1.0 + number * number / (40.0 + 200.0 * touch)))
    decays_s = 2.6 / (1.0 + fundamental_hz / 900.0) / (1.0 + 0.2 * number)
    # Alternating signs keep the partials from all rising together in one sharp peak.
    signs = np.where(number % 4.0 < 2.0, 1.0, -1.0)
    sound = ring(1.4, frequencies_hz, decays_s, touch * hammer * signs)
    knock = burst(rng, 0.04, 0.03, (Biquad("peaking", 1500.0, gain_db=6.0), Biquad("low-pass", 15000.0, q=0.6)))
    sound[: knock.shape[0]] += 0.012 * touch * knock
    rise = round(0.0008 * RATE_HZ)
    sound[:rise] *= 0.5 - 0.5 * cosine(np.arange(rise) / (2.0 * rise))
    return sound


def _held(rng: np.random.Generator, note: int, length_s: float) -> Mono:
    """One held note of a reed-like stop: even harmonics weaker, wavering by a cent or two, gently begun."""
    waver = wander(rng, length_s, 0.17) * 0.0008
    frames = waver.shape[0]
    fundamental_hz = float(note_hz(note))
    count = int(16_000.0 / fundamental_hz)
    cycles = np.cumsum(fundamental_hz * (1.0 + waver)) / RATE_HZ
    strengths = [(1.0 if number % 2 else 0.55) / (number * float(np.sqrt(number))) for number in range(1, count + 1)]
    return harmonics(cycles, strengths) * _swell(frames, 0.18, 0.22)


def _bass(note: int, length_s: float) -> Mono:
    """One bass note: a round tone whose harmonics lie at 1/k², firm at the start and then easing."""
    frames = round(length_s * RATE_HZ)
    time_s = np.arange(frames) / RATE_HZ
    cycles = float(note_hz(note)) * time_s
    tone = harmonics(cycles, [1.0 / (number * number) for number in range(1, 25)])
    return tone * _swell(frames, 0.012, 0.10) / (1.0 + 0.8 * time_s)


def _swell(frames: int, rise_s: float, fall_s: float) -> Mono:
    """An envelope that rises, stays at 1 and falls, by raised cosines."""
    out = np.ones(frames)
    rise, fall = round(rise_s * RATE_HZ), round(fall_s * RATE_HZ)
    out[:rise] = 0.5 - 0.5 * cosine(np.arange(rise) / (2.0 * rise))
    out[frames - fall :] *= 0.5 + 0.5 * cosine(np.arange(fall) / (2.0 * fall))
    return out
