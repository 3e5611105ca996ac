"""Noise from a seeded generator, and slow random curves, from uniform numbers only. It knows no instrument."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .arithmetic import RATE_HZ, cosine, exp2
from .biquads import Biquad, apply

Mono = NDArray[np.float64]


def generator(seed: int) -> np.random.Generator:
    """Generator of a named kind, so that its numbers stay the same across versions."""
    return np.random.Generator(np.random.PCG64(seed))


def white(rng: np.random.Generator, length_s: float) -> Mono:
    """White noise of unit standard deviation, nearly Gaussian: the sum of three uniform numbers a sample."""
    parts = rng.random((3, round(length_s * RATE_HZ)))
    noise: Mono = ((parts[0] + parts[1]) + parts[2] - 1.5) * 2.0
    return noise


def burst(rng: np.random.Generator, length_s: float, decay_s: float, filters: tuple[Biquad, ...]) -> Mono:
    """Filtered noise that falls by 60 dB in `decay_s`, starting within half a millisecond."""
    sound = apply(filters, white(rng, length_s), RATE_HZ)
    frames = sound.shape[0]
    time_s = np.arange(frames) / RATE_HZ
    sound *= exp2(-9.965784284662087 * time_s / decay_s) * np.minimum(1.0, time_s / 0.0005)
    fade = min(frames, round(0.02 * RATE_HZ))
    sound[frames - fade :] *= 0.5 + 0.5 * cosine(np.arange(fade) / (2.0 * fade))
    return sound


def wander(rng: np.random.Generator, length_s: float, step_s: float) -> Mono:
    """A smooth curve between random values from −1 to 1, one each `step_s`, joined by raised cosines."""
    frames = round(length_s * RATE_HZ)
    place = np.arange(frames) / (step_s * RATE_HZ)
    index = np.floor(place).astype(np.int64)
    values = rng.random(int(index[-1]) + 2) * 2.0 - 1.0
    weight = 0.5 - 0.5 * cosine((place - index) * 0.5)
    return np.asarray(values[index] * (1.0 - weight) + values[index + 1] * weight)
