"""Sine and exponential from additions and multiplications alone, so that every processor gives the same bits.

The libraries' own sine and exponential are right to the last bit or nearly, but which way that bit falls depends
on the instructions a processor has. Sums, products, quotients and square roots are each rounded by the rule of
IEEE 754, so series built from them one operation at a time come out the same everywhere. This module makes no
sound and reads no files.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

RATE_HZ = 48_000  # the rate of every demo track

_TWO_PI = 6.283185307179586
_LN_2 = 0.6931471805599453
_LOG2_10 = 3.321928094887362
# Taylor series: the first term left out is below 1e-17 of the result at the end of each reduced range.
_SINE_TERMS = 11
_EXP_TERMS = 14


def sine(cycles: ArrayLike) -> NDArray[np.float64]:
    """Sine of a phase counted in cycles (1.0 is a full turn), to about 1e-15, same shape as `cycles`."""
    turns = np.asarray(cycles, dtype=np.float64)
    turns = turns - np.rint(turns)
    folded = np.where(np.abs(turns) > 0.25, np.copysign(0.5, turns) - turns, turns)
    angle = folded * _TWO_PI
    square = angle * angle
    total = np.ones_like(angle)
    for term in range(_SINE_TERMS - 1, 0, -1):
        total = total * square
        total = total / (-2.0 * term * (2.0 * term + 1.0))
        total = total + 1.0
    return np.asarray(angle * total)


def cosine(cycles: ArrayLike) -> NDArray[np.float64]:
    """Cosine of a phase counted in cycles, to about 1e-15, same shape as `cycles`."""
    turns = np.asarray(cycles, dtype=np.float64)
    return sine(turns - np.rint(turns) + 0.25)


def exp2(exponent: ArrayLike) -> NDArray[np.float64]:
    """Two to the power of `exponent`, to about 1e-15 of the result, same shape as `exponent`."""
    power = np.asarray(exponent, dtype=np.float64)
    whole = np.rint(power)
    rest = (power - whole) * _LN_2
    total = np.ones_like(rest)
    for term in range(_EXP_TERMS - 1, 0, -1):
        total = total * rest
        total = total / float(term)
        total = total + 1.0
    return np.asarray(np.ldexp(total, whole.astype(np.int64)))


def decibels(level_db: ArrayLike) -> NDArray[np.float64]:
    """Amplitude factor of a level in dB (20 dB is a factor of ten)."""
    return exp2(np.asarray(level_db, dtype=np.float64) * (_LOG2_10 / 20.0))


def note_hz(note: ArrayLike) -> NDArray[np.float64]:
    """Frequency in Hz of a note number in equal temperament, 69 being the A of 440 Hz."""
    return 440.0 * exp2((np.asarray(note, dtype=np.float64) - 69.0) / 12.0)
