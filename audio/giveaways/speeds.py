"""A recording that plays the same performance at another speed throughout: by how much. Pure.

A speed stretches the spectrum of all of a passage, its finest lines too, so on a logarithmic scale it shifts it: the
shift that makes two spectra most alike is the speed. It is told only if at that speed both are the same performance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..alignment.coherence import coherence
from ..clip import Clip
from ..resample import resample
from . import timing
from .findings import LIMITS, Finding

MOST = 0.03  # 3 %, half a semitone: farther, nobody takes it for the same
LEAST = 0.0002  # less is a clock, which is found otherwise
BAND_HZ = (300.0, 4000.0)
STEP = 2e-5  # of the logarithmic scale
LONGEST_S = 40.0
SMOOTH_HZ = 50.0
FINER = 2  # padding of the spectrum

Signal = NDArray[np.float64]


def named(found: Sequence[Finding], reference: Clip, other: Clip) -> list[Finding]:
    """The findings, of which one of another performance says the speed where that is all there is to it."""
    limit = LIMITS["performance"]
    told = [each for each in found if each.kind == limit.kind and each.limit == limit.value and each.mend is None]
    if not told or reference.channels != other.channels:
        return list(found)
    faster = speed(reference, other)
    if faster is None:
        return list(found)
    word = "faster" if faster > 0 else "slower"
    how = f"plays {abs(100 * faster):.2f} % {word} than the reference throughout, else the same performance"
    what = f"{told[0].setup} {how}; bring a recording at the same speed"
    return [replace(each, what=what) if each is told[0] else each for each in found]


def speed(reference: Clip, other: Clip) -> float | None:
    """By what part the other plays faster (negative: slower); None where no speed makes it the same performance."""
    if other.rate_hz != reference.rate_hz:
        other = resample(other, reference.rate_hz)
    loudest = int(np.argmax(np.sum(np.square(reference.samples), axis=0)))
    faster = _shift(reference.samples[:, loudest], other.samples[:, loudest], reference.rate_hz)
    if faster is None:
        return None
    slowed = _slowed(other, faster)
    step = timing.in_step(reference, slowed)
    if step is None:
        return None
    first, second = timing.evened(reference, slowed, step)
    pair = step.wiring.pair
    alike = coherence(first.samples[:, pair[0]], second.samples[:, pair[1]], reference.rate_hz)
    return faster if alike >= LIMITS["performance"].value else None


def _shift(one: Signal, two: Signal, rate_hz: int) -> float | None:
    """By what part the second's spectrum lies higher; None where it lies as the first's, or cannot be told."""
    mine, theirs = (_logarithmic(each[: round(LONGEST_S * rate_hz)], rate_hz) for each in (one, two))
    size = 1 << (2 * mine.size - 1).bit_length()
    fits = np.fft.irfft(np.fft.rfft(theirs, size) * np.conj(np.fft.rfft(mine, size)), size)
    most = round(np.log1p(MOST) / STEP)
    shifts = np.arange(-most, most + 1)
    best = int(shifts[int(np.argmax(fits[shifts]))])
    faster = float(np.expm1(best * STEP))
    return faster if abs(faster) >= LEAST else None


def _logarithmic(samples: Signal, rate_hz: int) -> Signal:
    """The spectrum's fine structure on a logarithmic scale, every stretch of it alike strong."""
    from scipy.fft import next_fast_len, rfft

    size = next_fast_len(FINER * samples.size, real=True)
    lines = np.sqrt(np.abs(rfft(samples * np.hanning(samples.size), size)))
    low, high = (np.array(BAND_HZ) * [1 - 2 * MOST, 1 + 2 * MOST] * size / rate_hz).astype(int)
    lines = lines[low : min(high, lines.size)]
    width = max(3, round(SMOOTH_HZ * size / rate_hz))
    level = np.convolve(lines, np.ones(width) / width, "same")
    fine = lines / np.maximum(level, 1e-12) - 1
    hz = np.exp(np.arange(np.log(BAND_HZ[0]), np.log(min(BAND_HZ[1], 0.45 * rate_hz)), STEP))
    return np.asarray(np.interp(hz * size / rate_hz - low, np.arange(fine.size), fine))


def _slowed(clip: Clip, faster: float) -> Clip:
    from scipy.signal import resample as by_spectrum

    return Clip(np.asarray(by_spectrum(clip.samples, round(clip.frames * (1 + faster)), axis=0)), clip.rate_hz)
