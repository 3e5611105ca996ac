"""The plain cross-correlation at every lag, over the whole spectrum, and where a known signal arrives by it. Pure."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Signal = NDArray[np.float64]
FACTORS = (1, 3, 5, 9, 15, 25, 27)  # times a power of two: such lengths are transformed quickly, and lie close together


def padded_size(frames: int, others: int) -> int:
    """An even length of small factors at which a correlation of signals this long does not wrap round into itself."""
    least = frames + others - 1
    return min(factor << max(1, (-(-least // factor) - 1).bit_length()) for factor in FACTORS)


def cross_correlation(reference: NDArray[np.floating], other: NDArray[np.floating], size: int) -> Signal:
    """The sum of products of the reference with the other, read later by each lag; shape (size,).

    Place k holds the lag of k frames, place −k (from the end) that of −k frames. Signals of shape (frames, signals)
    are correlated each with its fellow, and the mean over them is returned.

    Parameters
    ----------
    reference, other
        Shape (frames,) or (frames, signals), in any unit; the result is in the product of both.
    size
        `padded_size` of both, or more.
    """
    columns = (np.asarray(each, dtype=np.float64) for each in (reference, other))
    one, two = (each[:, None] if each.ndim == 1 else each for each in columns)
    spectrum = np.fft.rfft(two, size, axis=0) * np.conj(np.fft.rfft(one, size, axis=0))
    return np.asarray(np.fft.irfft(spectrum.mean(axis=1), size), dtype=np.float64)


def arrival(sent: NDArray[np.floating], heard: NDArray[np.floating]) -> int:
    """How many frames into a recording a known signal begins, with either polarity: 0 or more, whole inside it.

    Parameters
    ----------
    sent, heard
        Shape (frames,); the recording holds the signal once, through one way.
    """
    lags = cross_correlation(sent, heard, padded_size(sent.size, heard.size))
    return int(np.argmax(np.abs(lags[: max(heard.size - sent.size, 1)])))
