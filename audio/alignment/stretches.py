"""Stretches of a file, several at once, at the rate at which recordings are aligned; silence beyond its ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip, Samples
from ..files import reading
from ..resample import resample

RATE_HZ = 24_000  # holds the band in which recordings are compared, with room for a cubic between samples
# A cubic through samples is a sum of bells whose heights are the samples run through this filter, forth and back
# (M. Unser, IEEE Signal Processing Magazine 16(6), 1999: from memory; the tests compare it with another solution).
POLE = 3**0.5 - 2
REACH = 29  # what the filter forgets: POLE**29 is below 1e-16


@dataclass(frozen=True, eq=False)
class Stretch:
    """Samples of shape (frames, channels) at `RATE_HZ`, and when in its recording the first one is, in seconds."""

    samples: Samples
    start_s: float

    def at(self, times_s: NDArray[np.float64], channel: int) -> NDArray[np.float64]:
        """One channel at moments of the recording, between its samples too; 0 beyond the stretch. For measuring only.

        By a cubic: in the band in which recordings are compared it is close enough.
        """
        places = (times_s - self.start_s) * RATE_HZ
        inside = (places >= 0) & (places <= len(self.samples) - 1)
        found = np.zeros(times_s.size)
        found[inside] = _cubic(self.samples[:, channel], places[inside])
        return found


def _cubic(samples: NDArray[np.float64], places: NDArray[np.float64]) -> NDArray[np.float64]:
    """The cubic spline through samples, at places between them (mirrored at both ends)."""
    mirrored = np.pad(samples, REACH + 2, mode="reflect")
    heights = 3**0.5 * np.convolve(mirrored, POLE ** np.abs(np.arange(-REACH, REACH + 1)), "valid")  # from place -2 on
    first = places.astype(np.int64)  # of places that are 0 or more: the one below
    after = places - first
    before = 1 - after
    ahead, back = after * after, before * before
    found = back * before * heights[first + 1]
    found += (4 - (6 - 3 * after) * ahead) * heights[first + 2]
    found += (4 - (6 - 3 * before) * back) * heights[first + 3]
    found += ahead * after * heights[first + 4]
    return np.asarray(found / 6)


def read(path: Path, starts_s: Sequence[float], length_s: float) -> list[Stretch]:
    """Stretches of one length from about each of these moments; a lossy file is decoded once for all of them."""
    info = reading.inspect(path)
    frames = round(length_s * info.rate_hz)
    firsts = [round(start_s * info.rate_hz) for start_s in starts_s]
    if info.lossy:
        cut = _in_one_pass(path, firsts, frames, info.channels)
    else:
        cut = [_within(path, info.frames, first, frames, info.channels) for first in firsts]
    return [
        Stretch(resample(Clip(samples, info.rate_hz), RATE_HZ).samples, first / info.rate_hz)
        for first, samples in zip(firsts, cut, strict=True)
    ]


def _within(path: Path, total: int, first: int, frames: int, channels: int) -> Samples:
    samples = np.zeros((frames, channels))
    low, high = max(first, 0), min(first + frames, total)
    if high > low:
        samples[low - first : high - first] = reading.read(path, low, high - low).samples
    return samples


def _in_one_pass(path: Path, firsts: Sequence[int], frames: int, channels: int) -> list[Samples]:
    found = [np.zeros((frames, channels)) for _ in firsts]
    at = 0
    for block in reading.blocks(path):
        for first, samples in zip(firsts, found, strict=True):
            low, high = max(first, at), min(first + frames, at + len(block))
            if high > low:
                samples[low - first : high - first] = block[low - at : high - at]
        at += len(block)
    return found
