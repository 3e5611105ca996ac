"""Where one whole recording lies against another of the same track: its lag, its clock, how surely, and the next best.

Coarse first, by how the levels move over the whole track; then at several places along it to a fraction of a sample,
which also gives the clock. What decides between lags is the coherence at those places, and for how long one sounds
where the other does not: a loop may fit as well one turn later, but not where the music begins. Files are read in
turn and by stretches, so that an hour needs no more memory than a minute.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from . import coarse, coherence, movements, stretches
from .correlation import padded_size
from .delay import align, align_bands, band
from .movements import Movements
from .stretches import RATE_HZ, Stretch

PLACES = 12
PLACE_S = 4.0
REACH_S = (
    0.1  # of the fine search about the coarse lag; what a clock that is roughly known may still gather, and a step
)
TOGETHER_S = 0.001  # places whose delays lie on one line to within this are believed
MOST_PPM = 1100.0
SMEARS_PPM, FINER = 10.0, 2
SHORT_S = 25.0  # the movements of less do not show a clock far off: some are tried
FAR_OFF_PPM = (-400.0, 400.0, -800.0, 800.0)
CANDIDATES = 24
LOOKED_AT = 5  # of them, at the places
NEARLY = 0.75  # of the best likeness: what lies below is not looked at
EQUAL = 0.05  # of the coherence: lags nearer than this are told apart only by what is missing
EQUAL_S = 0.2  # missing sound, in seconds
LOST = (
    0.2  # of the likeness: by how much a lag must be better to be looked at first, if all lay beyond the other's ends
)


@dataclass(frozen=True)
class Fit:
    """One lag, and how well the recordings fit there.

    Attributes
    ----------
    lag_s
        How late the other is where the reference begins, in seconds; negative: early.
    ppm
        How much the other's clock runs fast against the reference's, in parts per million.
    coherence
        See `coherence`, at places along the whole track.
    missing_s
        For how long one sounds and the other does not.
    beyond_s
        For how long one sounds where the other's recording has not begun or has ended.
    scatter_s
        How far single places lie off the lag and the clock, as their median; None where too few agree.
    """

    lag_s: float
    ppm: float
    coherence: float
    missing_s: float
    beyond_s: float
    scatter_s: float | None

    def lag_at(self, time_s: float) -> float:
        """How late the other is at a moment of the reference, in seconds."""
        return self.lag_s + 1e-6 * self.ppm * time_s


@dataclass(frozen=True)
class TrackAlignment:
    """Where a recording lies against another, and the lag that fits next best; None if no other comes near."""

    best: Fit
    next_best: Fit | None

    @property
    def found(self) -> bool:
        """Whether both hold the same performance."""
        return self.best.coherence >= coherence.SAME

    @property
    def ambiguous(self) -> bool:
        """Whether the next best fits as well."""
        return self.found and self.next_best is not None and equally_good(self.best, self.next_best)

    @property
    def next_worse(self) -> float:
        """By how much less coherent the next best is; 1 without one."""
        return 1.0 if self.next_best is None else self.best.coherence - self.next_best.coherence


def equally_good(best: Fit, other: Fit) -> bool:
    """Whether neither coherence nor missing sound tells two lags apart.

    What lies beyond the other's ends may have been cut off there; but where nothing does, both hold the whole.
    """
    whole = best.beyond_s < EQUAL_S <= other.beyond_s - best.beyond_s
    return (
        best.coherence - other.coherence < EQUAL * best.coherence
        and other.missing_s - best.missing_s < EQUAL_S
        and not whole
    )


def align_files(
    reference: Path, other: Path, one: Movements | None = None, two: Movements | None = None
) -> TrackAlignment | None:
    """Where a file lies against another; None where nothing in them is alike.

    Parameters
    ----------
    one, two
        Their movements, where they are known already.

    Raises
    ------
    FileError
        If a file cannot be read.
    MeasureError
        If one is shorter than one second, or silent.
    """
    one, two = one or movements.of_file(reference), two or movements.of_file(other)
    likely = _likely(one, two)
    fits = [fit for lag in likely if (fit := at_lag(reference, other, one, two, lag)) is not None]
    if not fits:
        return None
    if max(fit.coherence for fit in fits) < coherence.SAME and one.length_s < SHORT_S:
        middle_s = one.length_s / 2
        for ppm in FAR_OFF_PPM:
            lag = coarse.Lag(likely[0].lag_s - 1e-6 * ppm * middle_s, ppm, likely[0].likeness)
            fits += [fit for fit in [at_lag(reference, other, one, two, lag)] if fit is not None]
    fits.sort(key=lambda fit: fit.coherence, reverse=True)
    near = [fit for fit in fits if fits[0].coherence - fit.coherence <= EQUAL * abs(fits[0].coherence)]
    best = min(near, key=lambda fit: (round(fit.missing_s / EQUAL_S), fit.beyond_s))
    rest = [fit for fit in fits if abs(fit.lag_s - best.lag_s) >= coarse.APART_S]
    rest.sort(
        key=lambda fit: (not equally_good(best, fit), fit.beyond_s if equally_good(best, fit) else -fit.coherence)
    )
    return TrackAlignment(best, rest[0] if rest else None)


def _likely(one: Movements, two: Movements) -> list[coarse.Lag]:
    """The lags worth a closer look: alike enough, those first in which least is missing."""
    found = coarse.lags(one, two, CANDIDATES)
    if not found:
        return []
    shortest = min(one.length_s, two.length_s)
    worth = {
        lag: lag.likeness
        - coarse.missing_s(one, two, lag.lag_s) / shortest
        - LOST * coarse.beyond_s(one, two, lag.lag_s) / (one.length_s + two.length_s)
        for lag in found
    }
    ranked = sorted(found, key=lambda lag: -worth[lag])
    return [lag for lag in ranked if worth[lag] >= NEARLY * worth[ranked[0]]][:LOOKED_AT]


def at_lag(reference: Path, other: Path, one: Movements, two: Movements, lag: coarse.Lag) -> Fit | None:
    """How two files fit about a lag; None where they share too little."""
    begin = max(0.0, -lag.lag_s)
    end = min(one.length_s, two.length_s - lag.lag_s)
    length_s = min(PLACE_S, (end - begin) / 3)
    if length_s < 0.3:
        return None
    count = int(np.clip((end - begin) / length_s, 3, PLACES))
    starts = [float(start) for start in begin + np.arange(count) * (end - begin - length_s) / (count - 1)]
    near = [lag.lag_s + 1e-6 * lag.ppm * start for start in starts]
    heard = stretches.read(reference, starts, length_s)
    room = [start + late - 2 * REACH_S for start, late in zip(starts, near, strict=True)]
    answer = stretches.read(other, room, length_s + 4 * REACH_S)
    pair, delays = _delays(heard, answer, near)
    times = np.array([part.start_s + length_s / 2 for part in heard])
    late, ppm, agree = _line(times, delays, lag)
    for _ in range(FINER if abs(ppm) > SMEARS_PPM else 0):  # such a clock smears each delay: they are read without it
        delays = _again(heard, answer, pair, late, ppm) + late + 1e-6 * ppm * times
        late, ppm, agree = _line(times, delays, lag)
    off = delays - (late + 1e-6 * ppm * times)
    scatter = float(np.median(np.abs(off[agree]))) if agree.any() else None
    across = np.concatenate(
        [
            _across(one_part, two_part, pair, late + (wander if believed else 0.0), ppm)
            for one_part, two_part, wander, believed in zip(heard, answer, off, agree, strict=True)
        ]
    )
    per_place = len(across) // count
    alike = coherence.steadiness(across, per_place)
    missing, beyond = (each(one, two, lag.lag_s) for each in (coarse.missing_s, coarse.beyond_s))
    return Fit(late, ppm, alike, missing, beyond, scatter)


def _delays(
    heard: Sequence[Stretch], answer: Sequence[Stretch], near: Sequence[float]
) -> tuple[tuple[int, int], NDArray[np.float64]]:
    """The channels by which the recordings are compared, and how late the other is at each place, in seconds."""
    loudest = int(np.argmax(np.sum([np.sum(np.square(part.samples), axis=0) for part in heard], axis=0)))
    channels = answer[0].samples.shape[1]
    sure, delays = np.zeros(channels), np.empty((channels, len(heard)))
    size = padded_size(len(heard[0].samples), len(answer[0].samples))
    for place, (one, two, late) in enumerate(zip(heard, answer, near, strict=True)):
        begun = two.start_s - one.start_s
        own, others = band(one.samples[:, [loudest]], RATE_HZ, size), band(two.samples, RATE_HZ, size)
        for channel in range(channels):
            here = align_bands(own, 0, others, channel, late - begun, REACH_S)
            delays[channel, place] = late if here is None else begun + here.delay_s
            sure[channel] += 0.0 if here is None else abs(here.correlation)
    channel = max(range(channels), key=lambda each: (sure[each], each))
    return (loudest, channel), delays[channel]


def _again(
    heard: Sequence[Stretch], answer: Sequence[Stretch], pair: tuple[int, int], late_s: float, ppm: float
) -> NDArray[np.float64]:
    """How late the other still is at each place, in seconds, when it is read by a lag and a clock."""
    rest = []
    for one, two in zip(heard, answer, strict=True):
        own = one.samples[:, pair[0]]
        here = align(own, _read_late(one, two, pair[1], late_s, ppm), RATE_HZ, 0.0, REACH_S / 2)
        rest.append(0.0 if here is None else here.delay_s)
    return np.array(rest)


def _line(
    times: NDArray[np.float64], delays: NDArray[np.float64], lag: coarse.Lag
) -> tuple[float, float, NDArray[np.bool_]]:
    """The lag at the reference's start, the clock in ppm, and which places lie on them; the coarse ones if too few."""
    best = np.zeros(times.size, dtype=bool)
    for first, second in combinations(range(times.size), 2):
        slope = (delays[second] - delays[first]) / (times[second] - times[first])
        if abs(slope) <= 1e-6 * MOST_PPM:
            agree = np.abs(delays - delays[first] - slope * (times - times[first])) <= TOGETHER_S
            if agree.sum() > best.sum():
                best = agree
    if best.sum() < max(3, times.size // 2):
        return lag.lag_s, lag.ppm, np.zeros(times.size, dtype=bool)
    when, late = times[best], delays[best]
    pairs = np.triu_indices(when.size, 1)
    slope = float(np.median((late[pairs[1]] - late[pairs[0]]) / (when[pairs[1]] - when[pairs[0]])))
    return float(np.median(late - slope * when)), 1e6 * slope, best


def _across(one: Stretch, two: Stretch, pair: tuple[int, int], late_s: float, ppm: float) -> coherence.Lines:
    """The cross-spectra of moments at one place, the other read as late as it is."""
    own = one.samples[:, pair[0]]
    there = _read_late(one, two, pair[1], late_s, ppm)
    window_s = coherence.window_for(2 * own.size / RATE_HZ)
    return coherence.moments(there, RATE_HZ, window_s) * np.conj(coherence.moments(own, RATE_HZ, window_s))


def _read_late(one: Stretch, two: Stretch, channel: int, late_s: float, ppm: float) -> NDArray[np.float64]:
    """One channel of the other at the moments of the reference, as late as it is there."""
    times = one.start_s + np.arange(len(one.samples)) / RATE_HZ
    return two.at(times + late_s + 1e-6 * ppm * times, channel)
