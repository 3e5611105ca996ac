"""How loud one recording should be in each band and moment, if it is another one through whatever stays the same. Pure.

A loudspeaker, an equaliser and a room weigh the music's power in a band by something fixed, now and for a while after
(a room's decay); so the power of one recording is laid together, without anything negative, from the other's power at
the same moment and before it. What it has beyond that, the other recording does not explain. Powers are used, not
waves, so that neither phase nor a lag of some milliseconds matters; a wet recording explains no dry one, so whoever
asks tries it both ways.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip

Powers = NDArray[np.float64]
DECAY = (0, 1, 2, 4, 8, 16, 32)  # hops before now; between two of them the mean counts
MOVES_DB = 10.0  # a band that moves by less in what explains does not tell its own weight
HIGHEST_WEIGHT_DB = 6.0  # such a band's weight is not above the bands' that do by more
FEWEST = 24  # moments from which weights can be told
OPEN = (
    0.25  # of a standard error: 0.1 is enough for what a room adds, and 0.5 hides what a coder leaves out of held music
)
LEAST_TOLD = 1e-4  # of the parts that are told best


@dataclass(frozen=True, eq=False)
class Bands:
    """The mean square of all channels together in each moment and band; shape (moments, bands), and the hop."""

    power: Powers
    edges_hz: NDArray[np.float64]
    hop_s: float


def bands(clip: Clip, edges_hz: NDArray[np.float64], window_s: float) -> Bands:
    """The power between neighbouring edges in half overlapping windows (Hann) of `window_s`."""
    window = 2 * round(0.5 * window_s * clip.rate_hz)
    hop = window // 2
    count = max(0, (clip.frames - window) // hop + 1)
    places = np.searchsorted(np.fft.rfftfreq(window, 1 / clip.rate_hz), edges_hz)
    from scipy.fft import rfft

    shape = np.hanning(window).astype(np.float32)
    total = np.zeros((count, len(edges_hz) - 1))
    for channel in clip.samples.T.astype(np.float32):
        windows = (
            np.lib.stride_tricks.sliding_window_view(channel, window)[::hop]
            if count
            else np.empty((0, window), np.float32)
        )
        lines = rfft(windows * shape, axis=1)[:, places[0] : places[-1]]
        power = np.square(lines.real) + np.square(lines.imag)
        total += np.add.reduceat(power, places[:-1] - places[0], axis=1)
    return Bands(total * (2 / (np.sum(np.square(shape)) * window)), edges_hz, hop / clip.rate_hz)


def foretold(by: Powers, what: Powers) -> Powers:
    """What `what` may be at most (moments, bands), by what `by` is at the same moment and up to 32 hops before.

    The weights are those that fit best where `by` is louder than in its median moment, so that what is there in its
    quiet ones is not fitted; a constant is fitted beside them and left out, since what does not move with the music
    is no part of it. Strokes that all decay alike do not tell how much is a room's, nor held notes how much a
    limiter's: what the fit leaves open is added.
    """
    from scipy.optimize import nnls

    past = _past(by)
    count = past.shape[2]
    weights = np.zeros((by.shape[1], count))
    error = np.zeros_like(by)
    told = np.zeros(by.shape[1], dtype=bool)
    for band in range(by.shape[1]):
        one, two = by[:, band], what[:, band]
        loud = one >= np.median(one)
        if loud.sum() < FEWEST or one.max() <= 0:
            continue
        low, high = np.quantile(one, (0.05, 0.9))
        told[band] = high > low * 10 ** (MOVES_DB / 10)
        scale = 1 / (_smoothed(two)[loud] + 1e-20)
        parts = past[:, band]
        if told[band]:
            parts = np.concatenate([parts, np.ones((len(parts), 1))], axis=1)
        fitted, wanted = parts[loud] * scale[:, None], two[loud] * scale
        mean = two[loud].mean()
        found, left = nnls(fitted * mean, wanted * mean)
        weights[band] = found[:count]
        if told[band]:
            error[:, band] = _open(fitted, parts) * left / (mean * np.sqrt(loud.sum() - parts.shape[1]))
    total = weights.sum(axis=1)
    if told.any():
        most = total[told].max() * 10 ** (HIGHEST_WEIGHT_DB / 10)
        held = ~told & (total > most)
        weights[held] *= (most / total[held])[:, None]
    return np.asarray(np.einsum("tbk,bk->tb", past, weights) + OPEN * error)


def _open(fitted: Powers, parts: Powers) -> NDArray[np.float64]:
    """The standard error of what is foretold of each moment, as a multiple of that of one moment of the fit."""
    size = np.linalg.norm(fitted, axis=0) + 1e-30
    _, strength, turned = np.linalg.svd(fitted / size, full_matrices=False)
    return np.asarray(np.linalg.norm(parts / size @ turned.T / np.maximum(strength, LEAST_TOLD * strength[0]), axis=1))


def _past(power: Powers) -> Powers:
    """The power now and before, in parts (moments, bands, parts)."""
    count = len(power)
    sums = np.concatenate([np.zeros((1, power.shape[1])), np.cumsum(power, axis=0)])
    parts = [power]
    for near, far in itertools.pairwise(DECAY[1:]):
        ends = np.maximum(np.arange(count) + 1 - near, 0)
        begins = np.maximum(np.arange(count) + 1 - far, 0)
        parts.append((sums[ends] - sums[begins]) / (far - near))
    return np.stack(parts, axis=2)


def _smoothed(power: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.convolve(np.pad(power, 2, mode="edge"), np.ones(5) / 5, "valid")
