"""The stage a piece is played on: where and when each note sounds, the room around it, and its end.

It adds and filters arrays; it makes no notes of its own and writes no files.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .arithmetic import RATE_HZ, cosine, decibels, exp2, sine
from .biquads import Biquad, apply

Stereo = NDArray[np.float64]
Mono = NDArray[np.float64]

# Eight delay lines whose lengths share no factor, 23 to 49 ms: a small wooden room.
_LINES = (1103, 1289, 1427, 1579, 1783, 1949, 2137, 2357)


def empty(length_s: float) -> Stereo:
    """Silence of that length, shape (frames, 2)."""
    return np.zeros((round(length_s * RATE_HZ), 2))


def place(stage: Stereo, note: Mono, at_s: float, pan: float = 0.0) -> None:
    """Nothing; adds `note` to `stage` from `at_s` on, panned with constant power from −1 (left) to 1 (right).

    What would sound after the end of the stage is cut off there; the end is faded by `finish`.
    """
    start = max(0, round(at_s * RATE_HZ))
    frames = max(0, min(note.shape[0], stage.shape[0] - start))
    angle = (pan + 1.0) / 8.0
    stage[start : start + frames, 0] += note[:frames] * float(cosine(angle))
    stage[start : start + frames, 1] += note[:frames] * float(sine(angle))


def room(stage: Stereo, decay_s: float, level_db: float, damping_hz: float) -> Stereo:
    """`stage` with the sound of a small room added at `level_db`, decaying by 60 dB in `decay_s`.

    A feedback-delay network: eight delay lines mixed by a Hadamard matrix, each losing treble above
    `damping_hz` on every round (J.-M. Jot and A. Chaigne, "Digital delay networks for designing artificial
    reverberators", AES 90th Convention, 1991). The two channels of the room differ only slightly.
    """
    from scipy.signal import lfilter

    frames = stage.shape[0]
    block = min(_LINES)
    dry = (stage[:, 0] + stage[:, 1]) * 0.5
    lines = np.zeros((len(_LINES), frames + max(_LINES)))
    loss = exp2(np.array(_LINES) * (-9.965784284662087 / (decay_s * RATE_HZ)))[:, np.newaxis]
    pole = float(exp2(-9.064720283654388 * damping_hz / RATE_HZ))
    state = np.zeros((len(_LINES), 1))
    heard = np.zeros((len(_LINES), frames))
    for start in range(0, frames, block):
        stop = min(start + block, frames)
        delayed = np.stack(
            [
                line[start + max(_LINES) - length : stop + max(_LINES) - length]
                for line, length in zip(lines, _LINES, strict=True)
            ]
        )
        damped, state = lfilter([1.0 - pole], [1.0, -pole], delayed * loss, axis=1, zi=state)
        heard[:, start:stop] = damped
        lines[:, start + max(_LINES) : stop + max(_LINES)] = _hadamard(damped) + dry[start:stop]
    even = (heard[0] + heard[2]) + (heard[4] + heard[6])
    odd = (heard[1] - heard[3]) + (heard[5] - heard[7])
    wet = np.stack([even + 0.35 * odd, even - 0.35 * odd], axis=1) * float(decibels(level_db))
    return stage + apply((Biquad("low-pass", damping_hz, q=0.6),), wet, RATE_HZ)


def finish(stage: Stereo, level_db: float, fade_in_s: float = 0.005, fade_out_s: float = 0.6) -> Stereo:
    """`stage` at its final level, free of rumble below 25 Hz, with raised-cosine ends that reach 0."""
    out = apply((Biquad("high-pass", 25.0),), stage * float(decibels(level_db)), RATE_HZ)
    for length_s, ends in ((fade_in_s, out), (fade_out_s, out[::-1])):
        frames = round(length_s * RATE_HZ)
        ramp = 0.5 - 0.5 * cosine(np.arange(frames) / (2.0 * frames))
        ends[:frames] *= ramp[:, np.newaxis]
    return out


def _hadamard(lines: NDArray[np.float64]) -> NDArray[np.float64]:
    """The eight rows mixed by the orthogonal Hadamard matrix of order 8, by sums and differences."""
    mixed = lines
    for half in (1, 2, 4):
        pairs = mixed.reshape(8 // (2 * half), 2, half, -1)
        mixed = np.stack([pairs[:, 0] + pairs[:, 1], pairs[:, 0] - pairs[:, 1]], axis=1).reshape(8, -1)
    return mixed * 0.35355339059327373
