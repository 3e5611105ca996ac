"""Struck and plucked things: partials that ring and die away. It places nothing and knows no tune."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .arithmetic import RATE_HZ, cosine, exp2, sine

Mono = NDArray[np.float64]

HIGHEST_HZ = 18_500.0  # partials above it are left out
_LOG2_1000 = 9.965784284662087


def ring(
    length_s: float,
    frequencies_hz: ArrayLike,
    decays_s: ArrayLike,
    strengths: ArrayLike,
    strike: Mono | None = None,
) -> Mono:
    """Partials that start together and decay, shape (frames,).

    Parameters
    ----------
    length_s
        Length of the result; its last 30 ms are faded out.
    frequencies_hz, decays_s, strengths
        One value a partial: frequency, time to fall by 60 dB, amplitude at the start (its sign is its phase).
    strike
        What hits the body; an impulse where None. Partials are filtered from it.
    """
    from scipy.signal import lfilter

    frames = round(length_s * RATE_HZ)
    hit = np.zeros(frames)
    if strike is None:
        hit[0] = 1.0
    else:
        count = min(frames, strike.shape[0])
        hit[:count] = strike[:count]
    out = np.zeros(frames)
    partials = zip(
        np.asarray(frequencies_hz, dtype=np.float64),
        np.asarray(decays_s, dtype=np.float64),
        np.asarray(strengths, dtype=np.float64),
        strict=True,
    )
    for frequency_hz, decay_s, strength in partials:
        if frequency_hz > HIGHEST_HZ:
            continue
        radius = float(exp2(-_LOG2_1000 / (decay_s * RATE_HZ)))
        turn = frequency_hz / RATE_HZ
        b = [0.0, strength * radius * float(sine(turn))]
        a = [1.0, -2.0 * radius * float(cosine(turn)), radius * radius]
        sounding = min(frames, round(1.6 * decay_s * RATE_HZ) + (0 if strike is None else count))
        out[:sounding] += lfilter(b, a, hit[:sounding])
    fade = min(frames, round(0.03 * RATE_HZ))
    out[frames - fade :] *= 0.5 + 0.5 * cosine(np.arange(fade) / (2.0 * fade))
    return out
