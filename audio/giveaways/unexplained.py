"""What of one recording no fixed filter makes of the other, sample by sample. Pure.

A loudspeaker, an equaliser or a room is a filter that stays the same, so it is learnt from the passage itself; what is
left over is a fault of one of the two, or what the filter is too short for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

WINDOW_FRAMES_S = 0.34
WELL = 0.1  # so little left over needs no look the other way
WORSE, FITS = 3.0, 3
LEAST_LEFT = 0.003
LEAST_POWER = 1e-6  # of a line's strongest: what the filter is not asked to lift
Signal = NDArray[np.float32]
Lines = NDArray[np.complex64]


@dataclass(frozen=True, eq=False)
class Explained:
    """One channel as it is, as the other recording explains it, and that recording, each of shape (frames,)."""

    heard: Signal
    foretold: Signal
    source: Signal

    @property
    def left(self) -> Signal:
        """What is not explained."""
        return self.heard - self.foretold


def explained(reference: NDArray[np.float64], other: NDArray[np.float64], rate_hz: int) -> tuple[Explained, bool]:
    """The drier of two channels (frames,), brought into step, makes the other; True if it is the reference that does.

    A room cannot be taken off again, so the direction is the one in which less is left over. An offset is none of the
    music, and no filter makes it where the music pauses: it is taken off first.
    """
    reference, other = reference - reference.mean(), other - other.mean()
    one, two = (_moments(each, rate_hz) for each in (reference, other))
    forward = _answer(one, two)
    left = _unexplained(one, two, forward)
    if left > WELL:
        back = _answer(two, one)
        if _unexplained(two, one, back) < left:
            return _filtered(two, back, reference, other), False
    return _filtered(one, forward, other, reference), True


def by_a_filter(source: NDArray[np.float64], heard: NDArray[np.float64], rate_hz: int) -> Explained:
    """What a filter that stays makes of one channel (frames,) to be another, however much it lifts."""
    one = _moments(source, rate_hz)
    two = _moments(heard, rate_hz)
    weight = np.broadcast_to(1 / np.maximum(np.square(np.abs(two)).mean(axis=0), 1e-20), one.shape)
    return _filtered(one, _fitted(one, two, np.square(np.abs(one)), weight), heard, source)


@dataclass(frozen=True, eq=False)
class BothWays:
    """Two channels (frames,), each by a filter of the other.

    `told` is the coherence of each line: 1 where the filter is known, 0 where neither holds anything of the other.
    `unknown` is the mean square in each line that is left of the second, and of the first.
    """

    first: Lines
    second: Lines
    answers: tuple[Lines, Lines]
    told: NDArray[np.float64]
    unknown: tuple[NDArray[np.float64], NDArray[np.float64]]
    waves: tuple[NDArray[np.float64], NDArray[np.float64]]

    def explained(self) -> tuple[Explained, Explained]:
        """The second by the first, and the first by the second."""
        first, second = self.waves
        return (
            _filtered(self.first, self.answers[0], second, first),
            _filtered(self.second, self.answers[1], first, second),
        )


def both_ways(first: NDArray[np.float64], second: NDArray[np.float64], rate_hz: int) -> BothWays:
    """The filters between two channels, however much they lift, all moments counted by their power."""
    first, second = first - first.mean(), second - second.mean()
    one, two = _moments(first, rate_hz), _moments(second, rate_hz)
    sizes = [(np.square(each.real) + np.square(each.imag)).sum(axis=0) for each in (one, two)]
    across = np.sum(two * one.conj(), axis=0)
    told = np.square(np.abs(across)) / np.maximum(sizes[0] * sizes[1], 1e-30)
    answers = tuple(
        (shared / np.maximum(size, LEAST_POWER * size_heard * _most(size, size_heard) + 1e-20)).astype(np.complex64)
        for shared, size, size_heard in ((across, *sizes), (across.conj(), *sizes[::-1]))
    )
    # windows that overlap by half and add up to 1 hold 3/4 of the power
    scale = 2 / (0.75 * first.size * (2 * (one.shape[1] - 1)))
    unknown = tuple(np.asarray(scale * (1 - told) * size, dtype=np.float64) for size in sizes[::-1])
    return BothWays(one, two, (answers[0], answers[1]), told, (unknown[0], unknown[1]), (first, second))


def _most(size: Signal, size_heard: Signal) -> float:
    return float((size / np.maximum(size_heard, 1e-20)).max(initial=0.0))


def _unexplained(one: Lines, two: Lines, answer: Lines) -> float:
    return float(
        np.median(np.abs(two - one * answer).sum(axis=1)) / max(float(np.median(np.abs(two).sum(axis=1))), 1e-20)
    )


def _moments(samples: NDArray[np.float64], rate_hz: int) -> Lines:
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


def _answer(one: Lines, two: Lines) -> Lines:
    """The filter (lines,) that makes the second of the first, by most of the moments and not by the faulty ones.

    Each moment counts by its level; where some are explained much worse than the others, by how well it is explained.
    """
    power = np.square(one.real) + np.square(one.imag)
    weight = np.broadcast_to(1 / np.sqrt(np.maximum(power.sum(axis=1), 1e-20))[:, None], power.shape)
    answer = _fitted(one, two, power, weight)
    left = np.abs(two - one * answer)
    level = np.abs(two)
    shares = left.sum(axis=1) / np.maximum(level.sum(axis=1), 1e-6 * max(float(level.sum(axis=1).max()), 1e-20))
    if float(shares.max()) <= WORSE * float(np.median(shares)):
        return answer
    for _ in range(FITS):
        least = LEAST_LEFT * level.mean(axis=0) + 1e-20
        answer = _fitted(one, two, power, 1 / np.maximum(left, least))
        left = np.abs(two - one * answer)
    return answer


def _fitted(one: Lines, two: Lines, power: Signal, weight: Signal) -> Lines:
    across = np.sum(weight * two * one.conj(), axis=0)
    size = np.sum(weight * power, axis=0)
    return np.asarray(across / np.maximum(size, LEAST_POWER * max(float(size.max()), 1e-20)), dtype=np.complex64)


def _filtered(one: Lines, answer: Lines, heard: NDArray[np.float64], source: NDArray[np.float64]) -> Explained:
    from scipy.fft import irfft

    parts = irfft(one * answer, axis=1)
    hop = parts.shape[1] // 2
    whole = np.zeros((len(parts) + 1, hop), dtype=np.float32)
    whole[:-1] += parts[:, :hop]
    whole[1:] += parts[:, hop:]
    return Explained(heard.astype(np.float32), whole.reshape(-1)[hop : hop + heard.size], source.astype(np.float32))
