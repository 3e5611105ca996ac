"""A singing voice without words, by formant synthesis. It sings the line it is given and knows no tune.

The vocal folds give harmonics that fall off evenly; the throat and mouth raise those near a vowel's formants.
Pitch, vowel and strength are curves in steps of 5 ms, smoothed so that every change is a glide.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .arithmetic import RATE_HZ, exp2, note_hz, sine
from .biquads import Biquad, apply
from .harmonics import Mono, harmonics
from .noise import wander, white

_STEP = 240
_STEP_S = _STEP / RATE_HZ
# First three formants in Hz: round numbers of our own, near the averages of G. E. Peterson and H. L. Barney,
# "Control methods used in a study of the vowels", JASA 24, 1952 (from memory).
_VOWELS = {
    "a": (740.0, 1120.0, 2480.0),
    "e": (490.0, 1830.0, 2480.0),
    "i": (300.0, 2180.0, 2950.0),
    "o": (480.0, 860.0, 2420.0),
    "u": (330.0, 760.0, 2260.0),
}
# The higher ones belong to the singer, not the vowel: the singers' cluster near 3 kHz, then the air above.
_HIGHER_HZ = (2900.0, 3600.0, 5400.0, 8200.0, 12000.0)
_WIDTHS_HZ = (90.0, 110.0, 150.0, 200.0, 280.0, 900.0, 1800.0, 3500.0)
_LIFTS = (1.0, 0.6, 0.32, 0.28, 0.18, 0.08, 0.06, 0.06)
_HIGHEST_HZ = 16_000.0
_VIBRATO_HZ = 5.2
_VIBRATO_CENTS = 28.0


@dataclass(frozen=True)
class Sung:
    """One sung note: its start and length in seconds, its note number, its vowel and its strength."""

    at_s: float
    length_s: float
    note: int
    vowel: str
    strength: float


def sing(rng: np.random.Generator, line: Sequence[Sung], length_s: float, breath: float) -> Mono:
    """The line as one voice sings it, shape (frames,), with a trace of `breath` noise in the voice."""
    steps = round(length_s * RATE_HZ) // _STEP + 1
    pitch, formants, strength, depth = _curves(line, steps)
    jitter = wander(rng, steps * _STEP_S + 0.1, 0.11)[: steps * _STEP : _STEP]
    vibrato = sine(_VIBRATO_HZ * _STEP_S * np.arange(steps) + 0.25 * float(rng.random()))
    pitch_hz = note_hz(pitch + (_VIBRATO_CENTS * depth * vibrato + 5.0 * jitter) / 100.0)
    cycles = np.cumsum(_drawn(pitch_hz)) / RATE_HZ
    voiced = harmonics(cycles, _strengths(pitch_hz, formants, strength * (1.0 + 0.10 * depth * vibrato)))
    air = apply((Biquad("high-pass", 2500.0), Biquad("low-pass", 9000.0)), white(rng, length_s + 0.1), RATE_HZ)
    # The folds let air through in puffs, once a cycle.
    return voiced + breath * air[: voiced.shape[0]] * _drawn(strength) * (0.6 + 0.4 * sine(cycles))


def _curves(line: Sequence[Sung], steps: int) -> tuple[Mono, NDArray[np.float64], Mono, Mono]:
    """Note number, formants in Hz (3, steps), strength, and depth of vibrato, one value a step, smoothed."""
    time_s = np.arange(steps) * _STEP_S
    pitch = np.full(steps, float(line[0].note))
    formants = np.tile(np.array(_VOWELS[line[0].vowel])[:, np.newaxis], steps)
    strength, depth = np.zeros(steps), np.zeros(steps)
    for sung in line:
        from_here = time_s >= sung.at_s
        during = from_here & (time_s < sung.at_s + sung.length_s)
        pitch[from_here] = sung.note
        formants[:, from_here] = np.array(_VOWELS[sung.vowel])[:, np.newaxis]
        through = (time_s[during] - sung.at_s) / sung.length_s
        strength[during] = sung.strength * (0.82 + 0.72 * through * (1.0 - through))
        depth[during] = np.minimum(1.0, np.maximum(0.0, (time_s[during] - sung.at_s - 0.2) / 0.5))
    return (
        _smooth(pitch, 0.018, pitch[0]),
        np.stack([_smooth(row, 0.035, row[0]) for row in formants]),
        _smooth(strength, 0.040, 0.0),
        _smooth(depth, 0.040, 0.0),
    )


def _smooth(curve: Mono, time_s: float, first: float) -> Mono:
    """The curve after two equal first-order lags, starting at rest at `first`."""
    from scipy.signal import lfilter

    pole = float(exp2(-1.4426950408889634 * _STEP_S / time_s))
    lagged = curve - first
    for _ in range(2):
        lagged = lfilter([1.0 - pole], [1.0, -pole], lagged)
    return np.asarray(lagged + first)


def _strengths(pitch_hz: Mono, formants: NDArray[np.float64], strength: Mono) -> Iterator[Mono]:
    """Amplitude curve of each harmonic in turn, shape (frames,), from the formants it lies near."""
    count = int(_HIGHEST_HZ / float(pitch_hz.min()))
    for number in range(1, count + 1):
        hz = number * pitch_hz
        lift = np.zeros_like(hz)
        for place, (width_hz, gain) in enumerate(zip(_WIDTHS_HZ, _LIFTS, strict=True)):
            centre_hz = formants[place] if place < 3 else _HIGHER_HZ[place - 3]
            off = centre_hz * centre_hz - hz * hz
            wide = width_hz * hz
            lift += gain * wide / np.sqrt(off * off + wide * wide)
        # Harmonics fade out towards the highest frequency, so that none can fold back.
        top = np.minimum(1.0, np.maximum(0.0, (_HIGHEST_HZ + 2000.0 - hz) / 2000.0))
        yield _drawn(strength * lift * top / float(number))


def _drawn(curve: Mono) -> Mono:
    """The curve in frames, drawn in straight lines between its steps."""
    ramp = np.arange(_STEP) / _STEP
    rise = curve[1:] - curve[:-1]
    return (curve[:-1, np.newaxis] + rise[:, np.newaxis] * ramp).reshape(-1)
