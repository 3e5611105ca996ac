"""Sustained tones: the harmonics of one phase, each with its own strength. It knows no instrument and no tune."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from .arithmetic import cosine, sine

Mono = NDArray[np.float64]


def harmonics(cycles: Mono, strengths: Iterable[Mono | float]) -> Mono:
    """Sum of the harmonics of a running phase, shape (frames,).

    Parameters
    ----------
    cycles
        Phase of the fundamental in cycles, shape (frames,).
    strengths
        Amplitude of the first harmonic, the second and so on: a number, or a curve of shape (frames,).

    Notes
    -----
    sin (k+1)θ = 2 cos θ · sin kθ − sin (k−1)θ, so that one sine and one cosine serve all harmonics.
    """
    twice_cos = 2.0 * cosine(cycles)
    before = np.zeros_like(cycles)
    current = sine(cycles)
    out = np.zeros_like(cycles)
    for strength in strengths:
        out += strength * current
        before, current = current, twice_cos * current - before
    return out
