"""How two files fit about one lag: at places along both, to a fraction of a sample, with the clock and how surely."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from . import coarse, coherence, places, tones
from .movements import Movements
from .places import MOST_PPM, TOGETHER_S, Delays
from .stretches import RATE_HZ, Stretch

PLACES = 12
PLACE_S = 4.0
SMEARS_PPM, FINER = 10.0, 2
IN_A_ROOM = 0.5  # correlation at the places: a room whose echoes are louder than the direct sound leaves less
SOUNDING_DB = -20.0  # of the loudest place: there a delay can be told
TONES_AT = 3  # of the loudest places it is asked whether they are single tones


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
    over_s
        How far apart the first and the last of these places are; None where too few agree, or it was not kept.
    """

    lag_s: float
    ppm: float
    coherence: float
    missing_s: float
    beyond_s: float
    scatter_s: float | None
    over_s: float | None = None

    def lag_at(self, time_s: float) -> float:
        """How late the other is at a moment of the reference, in seconds."""
        return self.lag_s + 1e-6 * self.ppm * time_s


@dataclass(frozen=True)
class Tried:
    """A fit, whether every place that sounds lies on its lag and clock, whether all are single tones, and whether rooms
    hide the direct sound.
    """

    fit: Fit
    even: bool
    lag: coarse.Lag
    tones: bool
    hidden: bool


def tried(reference: Path, other: Path, one: Movements, two: Movements, lag: coarse.Lag) -> Tried | None:
    """How two files fit about a lag; None where they share too little."""
    begin = max(0.0, -lag.lag_s)
    end = min(one.length_s, two.length_s - lag.lag_s)
    length_s = min(PLACE_S, (end - begin) / 3)
    if length_s < 0.3:
        return None
    count = int(np.clip((end - begin) / length_s, 3, PLACES))
    starts = [float(start) for start in begin + np.arange(count) * (end - begin - length_s) / (count - 1)]
    near = [lag.lag_s + 1e-6 * lag.ppm * start for start in starts]
    heard, answer = places.read_both(reference, other, starts, near, length_s)
    times = np.array([part.start_s + length_s / 2 for part in heard])
    read = places.delays(heard, answer, near)
    laid = _laid(heard, answer, read, times, lag)
    if laid.coherence < coherence.SAME and read.by_each is not None and read.by_each.pairs != read.pairs:
        exchanged = _laid(heard, answer, read.by_each, times, lag)
        if exchanged.coherence >= coherence.SAME:
            read, laid = read.by_each, exchanged
    late, ppm, agree, alike = laid.late_s, laid.ppm, laid.agree, laid.coherence
    scatter = float(np.median(np.abs(laid.off_s[agree]))) if agree.any() else None
    hidden = False
    if alike >= coherence.SAME and read.alike < IN_A_ROOM:  # an echo that lasts may pass for the start at every place
        start = places.start(heard, answer, late, ppm)
        hidden = start is None
        late, ppm = start or (late, ppm)
    missing, beyond = (each(one, two, lag.lag_s) for each in (coarse.missing_s, coarse.beyond_s))
    loud = np.array([float(np.mean(np.square(part.samples))) for part in heard])
    sounds = loud > 10 ** (SOUNDING_DB / 10) * loud.max()
    loudest = [heard[place].samples[:, read.pair[0]] for place in np.argsort(-loud)[:TONES_AT]]
    single = sum(tones.only_tones(each, RATE_HZ) for each in loudest) > len(loudest) / 2
    over = float(np.ptp(times[agree])) if agree.any() else None
    fit = Fit(late, ppm, alike, missing, beyond, scatter, over)
    return Tried(fit, bool(np.all(agree | ~sounds)), lag, single, hidden)


@dataclass(frozen=True, eq=False)
class _Laid:
    """A lag and a clock, which places lie on them, how far off each is, in seconds, and how coherent all are there."""

    late_s: float
    ppm: float
    agree: NDArray[np.bool_]
    off_s: NDArray[np.float64]
    coherence: float


def _laid(
    heard: Sequence[Stretch], answer: Sequence[Stretch], read: Delays, times: NDArray[np.float64], lag: coarse.Lag
) -> _Laid:
    """The lag and the clock that most places lie on, read again without a clock that smears."""
    delays = read.late_s
    late, ppm, agree = _line(times, delays, lag)
    for _ in range(FINER if abs(ppm) > SMEARS_PPM else 0):  # such a clock smears each delay: they are read without it
        rest = [places.left_over(*each, late, ppm) for each in zip(heard, answer, read.pairs, strict=True)]
        delays = np.array(rest) + late + 1e-6 * ppm * times
        late, ppm, agree = _line(times, delays, lag)
    off = delays - (late + 1e-6 * ppm * times)
    across = [
        places.across(one, two, pair, late + (wander if believed else 0.0), ppm)
        for one, two, pair, wander, believed in zip(heard, answer, read.pairs, off, agree, strict=True)
    ]
    return _Laid(late, ppm, agree, off, coherence.steadiness(np.concatenate(across), len(across[0])))


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
