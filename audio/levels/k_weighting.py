"""K-weighting (ITU-R BS.1770-5 Annex 1): its coefficients at any rate, and a filter that runs at the speed of matrices.

Pure arithmetic on arrays. A recursive filter taken sample by sample keeps a processor waiting for its own last result;
taken block by block it is one matrix product: each block's output is a fixed combination of the block's samples and of
the four numbers the filter remembers, and so is what it remembers afterwards. The numbers that come out are those of
the plain recursion, to rounding (the tests compare them).
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, prod, tan

import numpy as np
from numpy.typing import NDArray

# The filters behind the 48 kHz coefficients of Annex 1 tables 1 and 2, so that they can be made at any rate: De Man,
# "Evaluation of implementations of the EBU R128 loudness measurement", AES 145th Convention, 2018 (as published in its
# code; values from memory and from pyloudnorm 0.2.0). At 48 kHz they give the tables to 8 digits.
SHELF_HZ, SHELF_Q, SHELF_DB, SHELF_MIDDLE = 1681.9744509555319, 0.7071752369554193, 3.99984385397, 0.499666774155
HIGH_PASS_HZ, HIGH_PASS_Q = 38.13547087613982, 0.5003270373253953
# Gain of the 48 kHz filters of tables 1 and 2 at 997 Hz, computed from the tables. The constant -0.691 of the loudness
# formula cancels it: a full-scale 997 Hz sine in one front channel reads -3.01. Made from the formulas alone, other
# rates would drift from it by up to 0.04 dB.
CALIBRATION_HZ = 997.0
CALIBRATION_GAIN_DB = 0.69101410
BLOCK = 32  # frames; of 16, 32, 64 and 128 measured the quickest, with what it costs to carry the memory on
GROUPS = (8, 8, 16)  # blocks, groups of them, and groups of those, whose memories come of one matrix product
MOST_FRAMES = BLOCK * prod(GROUPS) - 1  # that can be fed at a time
MEMORY = 4  # numbers that two second-order sections remember
STRETCH_FRAMES = 22_016  # that are best fed at a time: what is made of them fits in a second cache; 3 to a file's block
# A filter ringing on into digital silence would end in denormal numbers, which are many times slower. 1e-150 is
# 3000 dB down.
NEGLIGIBLE = 1e-150

Array = NDArray[np.float64]


@functools.cache
def k_weighting(rate_hz: int) -> Array:
    """Second-order sections of the filter at this rate, shape (2, 6): shelf, then high-pass; b0 b1 b2 1 a1 a2."""
    k, gain = tan(pi * SHELF_HZ / rate_hz), 10 ** (SHELF_DB / 20)
    middle, below = gain**SHELF_MIDDLE * k / SHELF_Q, 1 + k / SHELF_Q + k * k
    shelf = [
        (gain + middle + k * k) / below, 2 * (k * k - gain) / below, (gain - middle + k * k) / below,
        1.0, 2 * (k * k - 1) / below, (1 - k / SHELF_Q + k * k) / below,
    ]  # fmt: skip
    k = tan(pi * HIGH_PASS_HZ / rate_hz)
    below = 1 + k / HIGH_PASS_Q + k * k
    high_pass = [1.0, -2.0, 1.0, 1.0, 2 * (k * k - 1) / below, (1 - k / HIGH_PASS_Q + k * k) / below]
    sections = np.array([shelf, high_pass])
    back = np.exp(-2j * pi * CALIBRATION_HZ / rate_hz * np.arange(3))
    response = np.prod(sections[:, :3] @ back / (sections[:, 3:] @ back))
    sections[0, :3] *= 10 ** (CALIBRATION_GAIN_DB / 20) / np.abs(response)
    return sections


def weighted(samples: Array, rate_hz: int) -> Array:
    """The samples, shape (frames, channels), through the filter."""
    meter = KWeighting(rate_hz, samples.shape[1])
    result = np.empty(samples.shape)
    for start in range(0, samples.shape[0], STRETCH_FRAMES):
        stretch = samples[start : start + STRETCH_FRAMES]
        result[start : start + STRETCH_FRAMES] = meter.feed(stretch).T
    return result


class KWeighting:
    """The filter, fed in stretches; it starts from silence.

    Parameters
    ----------
    rate_hz
        Sample rate.
    channels
        Number of channels, each filtered on its own.
    """

    def __init__(self, rate_hz: int, channels: int) -> None:
        self._recursion = _recursion(rate_hz)
        self._memory = np.zeros((channels, MEMORY))
        self._taken = np.empty((channels, 0, BLOCK + MEMORY))
        self._made = np.empty((channels, 0, BLOCK))

    def feed(self, stretch: Array) -> Array:
        """The next frames filtered, shape (channels, frames); it is good until the next call.

        Parameters
        ----------
        stretch
            Shape (frames, channels), at most `MOST_FRAMES`.
        """
        frames, channels = stretch.shape
        if frames > MOST_FRAMES:
            raise ValueError(f"at most {MOST_FRAMES} frames at a time; got {frames}")
        whole, left = divmod(frames, BLOCK)
        count = whole + bool(left)
        if self._taken.shape[1] < count:
            self._taken = np.empty((channels, count, BLOCK + MEMORY))
            self._made = np.empty((channels, count, BLOCK))
        taken, made, recursion = self._taken[:, :count], self._made[:, :count], self._recursion
        taken[:, :whole, :BLOCK] = stretch[: whole * BLOCK].reshape(whole, BLOCK, channels).transpose(2, 0, 1)
        if left:
            taken[:, whole, :left] = stretch[whole * BLOCK :].T
            taken[:, whole, left:BLOCK] = 0.0
        self._memory[np.abs(self._memory) < NEGLIGIBLE] = 0.0
        before, self._memory = self._memories(taken[:, :, :BLOCK], whole)
        taken[:, :, BLOCK:] = before
        if left:
            kept = taken[:, whole, :left] @ recursion.keep[BLOCK - left :]
            self._memory = before[:, whole] @ recursion.powers[left] + kept
        np.matmul(taken, recursion.output, out=made)
        return made.reshape(channels, count * BLOCK)[:, :frames]

    def _memories(self, taken: Array, whole: int) -> tuple[Array, Array]:
        """What is remembered before each block, shape (channels, blocks, 4), and after the whole ones."""
        kept = taken[:, :whole] @ self._recursion.keep
        found = _remembered(kept, self._memory, self._recursion.levels)
        return found[:, : taken.shape[1]], found[:, whole]


def _remembered(kept: Array, memory: Array, levels: Sequence[_Carry]) -> Array:
    """What is remembered before each step, and after the last and further on.

    Groups of steps are taken as the steps of the level above, so that a long row costs little more for each step than
    a short one.

    Parameters
    ----------
    kept
        What each step leaves by itself, shape (channels, steps, 4).
    memory
        What is remembered before the first, shape (channels, 4).
    levels
        How groups of the steps pass on what is remembered, then groups of those groups, and so on.
    """
    channels, steps, _ = kept.shape
    carry, above = levels[0], levels[1:]
    row = carry.own.shape[0]
    groups = steps * MEMORY // row + 1
    padded = np.zeros((channels, groups * row))
    padded[:, : steps * MEMORY] = kept.reshape(channels, steps * MEMORY)
    own = padded.reshape(channels, groups, row) @ carry.own
    starts = _remembered(own[:, :-1, row:], memory, above)[:, :groups] if groups > 1 else memory[:, None]
    found = starts @ carry.past
    found += own[:, :, :row]
    return found.reshape(channels, groups * row // MEMORY, MEMORY)


@dataclass(frozen=True, eq=False)
class _Carry:
    """How a row of steps passes on what is remembered.

    From the 4 numbers that each step keeps, ``kept @ own`` is what was remembered before each step and, as the last 4
    numbers, after all of them, if nothing was before the first; ``memory @ past`` adds what was, before each step.
    """

    own: Array
    past: Array


@dataclass(frozen=True, eq=False)
class _Recursion:
    """The filter as matrices.

    A block's samples x and the memory m before it give [x m] @ output and leave m @ powers[BLOCK] + x @ keep;
    ``powers[n]`` carries the memory over n frames, `levels` over blocks, over groups of them, and over groups of those.
    """

    output: Array
    keep: Array
    powers: tuple[Array, ...]
    levels: tuple[_Carry, ...]


@functools.cache
def _recursion(rate_hz: int) -> _Recursion:
    # columns: a unit sample at each place of a block, then a unit of each number remembered
    memory = np.hstack([np.zeros((MEMORY, BLOCK)), np.eye(MEMORY)])
    powers, rows = [np.eye(MEMORY)], []
    for place in range(BLOCK):
        value = np.zeros(BLOCK + MEMORY)
        value[place] = 1.0
        for section, (b0, b1, b2, _, a1, a2) in enumerate(k_weighting(rate_hz)):
            first, second = memory[2 * section], memory[2 * section + 1]
            made = b0 * value + first
            memory[2 * section], memory[2 * section + 1] = b1 * value - a1 * made + second, b2 * value - a2 * made
            value = made
        rows.append(value)
        powers.append(memory[:, BLOCK:].T.copy())
    return _Recursion(
        output=np.ascontiguousarray(np.array(rows).T),
        keep=np.ascontiguousarray(memory[:, :BLOCK].T),
        powers=tuple(powers),
        levels=tuple(
            _carry(np.linalg.matrix_power(powers[BLOCK], prod(GROUPS[:level])), steps)
            for level, steps in enumerate(GROUPS)
        ),
    )


def _carry(step: Array, steps: int) -> _Carry:
    powers = [np.linalg.matrix_power(step, number) for number in range(steps)]
    own = np.zeros((steps, MEMORY, steps + 1, MEMORY))
    for kept in range(steps):
        for later in range(kept + 1, steps + 1):
            own[kept, :, later] = powers[later - 1 - kept]
    return _Carry(own.reshape(steps * MEMORY, (steps + 1) * MEMORY), np.hstack(powers))
