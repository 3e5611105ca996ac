"""Single places along two recordings: read together about a known lag, and how late the other is at each. Pure.

But for the files read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from . import coherence, direct_sound, stretches
from .correlation import padded_size
from .delay import align, align_bands, band
from .stretches import RATE_HZ, Stretch

REACH_S = 0.1  # of the fine search about a coarse lag: what a clock roughly known may still gather, and a step
TOGETHER_S = 0.001  # places whose delays lie on one line to within this are believed
MOST_PPM = 1100.0


@dataclass(frozen=True, eq=False)
class Delays:
    """The channels by which two recordings are compared, at each place, and how late the other is there.

    `late_s`, shape (places,), is in seconds; `alike` is the mean of the correlations there, 0 to 1. `by_each`: the
    same by the channel of the other that is most alike at that place, as channels may be exchanged from some place on.
    """

    pairs: tuple[tuple[int, int], ...]
    late_s: NDArray[np.float64]
    alike: float
    by_each: Delays | None = None

    @property
    def pair(self) -> tuple[int, int]:
        """The channels by which most places are compared."""
        return max(self.pairs, key=self.pairs.count)


def read_both(
    reference: Path, other: Path, starts_s: Sequence[float], near_s: Sequence[float], length_s: float
) -> tuple[list[Stretch], list[Stretch]]:
    """Stretches of the reference, and what answers to them about some lags, with room for the fine search."""
    room = [start + late - 2 * REACH_S for start, late in zip(starts_s, near_s, strict=True)]
    return stretches.read(reference, starts_s, length_s), stretches.read(other, room, length_s + 4 * REACH_S)


def delays(heard: Sequence[Stretch], answer: Sequence[Stretch], near: Sequence[float]) -> Delays:
    """How late the other is at each place, sought about some lags in seconds, by the channel most alike at all."""
    loudest = int(np.argmax(np.sum([np.sum(np.square(part.samples), axis=0) for part in heard], axis=0)))
    channels = answer[0].samples.shape[1]
    sure, late_at = np.zeros((channels, len(heard))), np.empty((channels, len(heard)))
    size = padded_size(len(heard[0].samples), len(answer[0].samples))
    for place, (one, two, late) in enumerate(zip(heard, answer, near, strict=True)):
        begun = two.start_s - one.start_s
        own, others = band(one.samples[:, [loudest]], RATE_HZ, size), band(two.samples, RATE_HZ, size)
        for channel in range(channels):
            here = align_bands(own, 0, others, channel, late - begun, REACH_S)
            late_at[channel, place] = late if here is None else begun + here.delay_s
            sure[channel, place] = 0.0 if here is None else abs(here.correlation)
    at, total = np.arange(len(heard)), sure.sum(axis=1)
    best = max(range(channels), key=lambda channel: (total[channel], channel))

    def by(channel: NDArray[np.intp], more: Delays | None = None) -> Delays:
        pairs = tuple((loudest, int(each)) for each in channel)
        return Delays(pairs, late_at[channel, at], float(sure[channel, at].mean()), more)

    return by(np.full(len(heard), best), by(sure.argmax(axis=0)))


def across(one: Stretch, two: Stretch, pair: tuple[int, int], late_s: float, ppm: float) -> coherence.Lines:
    """The cross-spectra of moments at one place, the other read as late as it is."""
    own = one.samples[:, pair[0]]
    there = read_late(one, two, pair[1], late_s, ppm)
    window_s = coherence.window_for(2 * own.size / RATE_HZ)
    return coherence.moments(there, RATE_HZ, window_s) * np.conj(coherence.moments(own, RATE_HZ, window_s))


def read_late(one: Stretch, two: Stretch, channel: int, late_s: float, ppm: float) -> NDArray[np.float64]:
    """One channel of the other at the moments of the reference, as late as it is there."""
    times = one.start_s + np.arange(len(one.samples)) / RATE_HZ
    return two.at(times + late_s + 1e-6 * ppm * times, channel)


def start(heard: Sequence[Stretch], answer: Sequence[Stretch], late_s: float, ppm: float) -> tuple[float, float] | None:
    """How late the other's direct sound is, in seconds, and its clock in ppm; None where no delay is plainly that.

    By that clock or by none: a few places that an echo brings on one line by chance make a clock, too.
    """
    for clock in (ppm, 0.0):
        both = ((one.samples, _all_late(one, two, late_s, clock)) for one, two in zip(heard, answer, strict=True))
        found_s = direct_sound.start_s(both, RATE_HZ, 0.0, REACH_S)
        if found_s is not None:
            return late_s + found_s, clock
    return None


def _all_late(one: Stretch, two: Stretch, late_s: float, ppm: float) -> NDArray[np.float64]:
    """As `read_late`, all channels; shape (frames, channels)."""
    return np.stack([read_late(one, two, each, late_s, ppm) for each in range(two.samples.shape[1])], axis=1)


def left_over(one: Stretch, two: Stretch, pair: tuple[int, int], late_s: float, ppm: float) -> float:
    """How late the other still is at a place, in seconds, read by a lag and a clock; 0 where it is silent."""
    here = align(one.samples[:, pair[0]], read_late(one, two, pair[1], late_s, ppm), RATE_HZ, 0.0, REACH_S / 2)
    return 0.0 if here is None else here.delay_s
