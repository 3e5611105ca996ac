"""Samples as whole numbers: TPDF dither and rounding to nearest. It touches no files.

libsndfile 1.2 rounds downwards and clips without a word when it turns floats into integers, so the integers
are made here and it only stores them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..clip import Samples


def whole_numbers(samples: Samples, bits: int, generator: np.random.Generator | None) -> NDArray[np.float64]:
    """Samples in steps of a `bits`-bit format, rounded to nearest; not limited to what the format can hold.

    Triangular dither of ±1 step (the sum of two uniform draws, each one step wide) makes the rounding error's
    mean and variance independent of the sound (Lipshitz, Wannamaker and Vanderkooy, J. Audio Eng. Soc. 40,
    1992; from memory).

    Parameters
    ----------
    samples
        Shape (frames, channels), full scale ±1.0.
    bits
        Word length; one step is 2^(1 - bits) of full scale.
    generator
        Source of the dither, two draws a sample taken frame by frame, so that a clip gives the same whole in
        any block length; None for no dither.
    """
    steps = samples * 2.0 ** (bits - 1)
    if generator is not None:
        draws = generator.random((*samples.shape, 2))
        steps += draws[..., 0] - draws[..., 1]
    return np.rint(steps, out=steps)


def fits(steps: NDArray[np.float64], bits: int) -> bool:
    """Whether every step is one that a `bits`-bit format can hold."""
    return steps.size == 0 or (float(steps.max()) <= 2 ** (bits - 1) - 1 and float(steps.min()) >= -(2 ** (bits - 1)))
