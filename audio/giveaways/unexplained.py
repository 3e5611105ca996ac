"""What of one recording no fixed filter makes of the other, sample by sample. Pure.

A loudspeaker, an equaliser or a room is a filter that stays the same, so it is learnt from the passage itself; what is
left over is a fault of one of the two, or what the filter is too short for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

WINDOW_FRAMES_S = 0.34
LEAST_POWER = 1e-6  # of a line's strongest: what the filter is not asked to lift
Signal = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Explained:
    """One channel as it is and as the other recording explains it, both of shape (frames,)."""

    heard: Signal
    foretold: Signal

    @property
    def left(self) -> Signal:
        """What is not explained."""
        return self.heard - self.foretold


def explained(reference: NDArray[np.float64], other: NDArray[np.float64], rate_hz: int) -> tuple[Explained, bool]:
    """The drier of two channels (frames,), brought into step, makes the other; True if it is the reference that does.

    A room cannot be taken off again, so the direction is the one in which less is left over.
    """
    one, two = (_moments(each, rate_hz) for each in (reference, other))
    forward, back = _unexplained(one, two), _unexplained(two, one)
    if forward <= back:
        return _filtered(one, two, other), True
    return _filtered(two, one, reference), False


def _moments(samples: NDArray[np.float64], rate_hz: int) -> NDArray[np.complex64]:
    """The spectra of half overlapping windows that add up to 1 throughout, silence before and after."""
    from scipy.fft import rfft

    window = 2 * round(WINDOW_FRAMES_S * rate_hz / 2)
    hop = window // 2
    count = samples.size // hop + 2
    padded = np.zeros((count + 1) * hop, dtype=np.float32)
    padded[hop : hop + samples.size] = samples
    shape = np.hanning(window + 1)[:-1].astype(np.float32)
    parts = np.lib.stride_tricks.sliding_window_view(padded, window)[::hop]
    return np.asarray(rfft(parts * shape, axis=1))


def _answer(one: NDArray[np.complex64], two: NDArray[np.complex64]) -> NDArray[np.complex64]:
    """The filter (lines,) that makes the second of the first; each moment counts by its level and not by its power."""
    power = np.square(one.real) + np.square(one.imag)
    weight = 1 / np.sqrt(np.maximum(power.sum(axis=1), 1e-20))
    across = np.einsum("m,ml,ml->l", weight, two, one.conj())
    size = weight @ power
    return np.asarray(across / np.maximum(size, LEAST_POWER * size.max(initial=1e-20)), dtype=np.complex64)


def _unexplained(one: NDArray[np.complex64], two: NDArray[np.complex64]) -> float:
    left = two - one * _answer(one, two)
    return float(np.sum(np.abs(left)) / max(float(np.sum(np.abs(two))), 1e-20))


def _filtered(one: NDArray[np.complex64], two: NDArray[np.complex64], heard: NDArray[np.float64]) -> Explained:
    from scipy.fft import irfft

    parts = irfft(one * _answer(one, two), axis=1)
    hop = parts.shape[1] // 2
    whole = np.zeros((len(parts) + 1, hop), dtype=np.float32)
    whole[:-1] += parts[:, :hop]
    whole[1:] += parts[:, hop:]
    return Explained(heard.astype(np.float32), whole.reshape(-1)[hop : hop + heard.size])
