"""The lags at which one whole recording may lie against another, by how their levels move. Pure.

The recordings are compared stretch by stretch, and the stretches' correlations are laid over one another as clocks up
to 1000 ppm apart would shift them. At each lag only what both hold there counts: music against silence counts
against it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .movements import HOP_S, Movements

REACH_S = 60.0
STRETCH_S = 20.0
MOST_PPM = 1000.0
SMEAR_S = 0.04  # from one clock tried to the next, over the whole track
APART_S = 0.1  # nearer lags are the same one
SOUNDING_DB, GONE_DB = -20.0, 20.0  # so near its loudest it sounds; so much fainter the other does not
SMOOTH_S = 0.2
LEAST_SHARE, LEAST_S = 0.4, 3.0  # of the shorter recording, and in seconds, that both must hold


@dataclass(frozen=True)
class Lag:
    """A lag that may be right.

    Attributes
    ----------
    lag_s
        How late the other is where the reference begins, in seconds.
    ppm
        The other's clock against the reference's, in parts per million, roughly; positive: it runs fast.
    likeness
        The correlation of the movements in what both hold, −1 to 1.
    """

    lag_s: float
    ppm: float
    likeness: float


def lags(reference: Movements, other: Movements, count: int, reach_s: float = REACH_S) -> list[Lag]:
    """Up to `count` lags within `reach_s`, the likeliest first; none if no band sounds in both."""
    one, two = reference.moved.astype(np.float64), other.moved.astype(np.float64)
    alive = (np.abs(one).max(axis=0) > 0) & (np.abs(two).max(axis=0) > 0)
    if not alive.any():
        return []
    one, two = one[:, alive], two[:, alive]
    reach = min(round(reach_s / HOP_S), max(len(one), len(two)))
    stretches, middles = _stretches(one, two, reach)
    places = np.arange(-reach, reach + 1)
    weight = _shared_energy(one, two, places)
    best = np.full(places.size, -1.0)
    slopes = np.zeros(places.size)
    length_s = len(one) * HOP_S
    centre = float(np.mean(middles))
    tried = int(np.ceil(MOST_PPM * 1e-6 * length_s / SMEAR_S)) if length_s * MOST_PPM * 1e-6 > HOP_S else 0
    for slope in sorted(np.arange(-tried, tried + 1) * (SMEAR_S / length_s), key=abs):
        moved = np.rint(slope * (middles - centre)).astype(int)
        pile = np.zeros(places.size)
        for correlation, by in zip(stretches, moved, strict=True):
            pile += _shifted(correlation, by)
        likeness = np.where(weight > 0, pile / np.where(weight > 0, weight, 1.0), -1.0)
        better = likeness > best
        best[better], slopes[better] = likeness[better], slope
    found = []
    rest = best.copy()
    for _ in range(count):
        at = int(np.argmax(rest))
        if rest[at] <= 0:
            break
        slope = float(slopes[at])
        between, height = _top(best, at)
        found.append(Lag((places[at] + between - slope * centre) * HOP_S, 1e6 * slope, min(height, 1.0)))
        apart = round(APART_S / HOP_S)
        rest[max(0, at - apart) : at + apart + 1] = -1.0
    return found


def missing_s(reference: Movements, other: Movements, lag_s: float) -> float:
    """For how long, in seconds, one of the two sounds and the other does not, of what both hold at a lag."""
    by = round(lag_s / HOP_S)
    begin, end = max(0, -by), min(len(reference.loud_db), len(other.loud_db) - by)
    if end <= begin:
        return 0.0
    one, two = _smooth_db(reference.loud_db[begin:end]), _smooth_db(other.loud_db[begin + by : end + by])
    louder = np.maximum(one, two)
    return float(np.sum((louder > SOUNDING_DB) & (np.abs(one - two) > GONE_DB))) * HOP_S


def likeness(one: Movements, other: Movements) -> float:
    """How alike two recordings are as music at the best lag, 0 to 1: near 1 for one piece through two loudspeakers."""
    found = lags(one, other, 1)
    return found[0].likeness if found else 0.0


def beyond_s(reference: Movements, other: Movements, lag_s: float) -> float:
    """For how long, in seconds, either sounds where the other's recording has not begun or has ended, at a lag."""
    by = round(lag_s / HOP_S)
    begin, end = max(0, -by), min(len(reference.loud_db), len(other.loud_db) - by)
    total = 0
    for level_db, low, high in ((reference.loud_db, begin, end), (other.loud_db, begin + by, end + by)):
        sounding = level_db > SOUNDING_DB
        total += int(sounding[: max(low, 0)].sum()) + int(sounding[max(high, 0) :].sum())
    return total * HOP_S


def _smooth_db(level_db: NDArray[np.float32]) -> NDArray[np.float64]:
    width = round(SMOOTH_S / HOP_S)
    power = np.convolve(10 ** (np.asarray(level_db, dtype=np.float64) / 10), np.ones(width) / width, "same")
    return np.asarray(10 * np.log10(np.maximum(power, 1e-12)))


def _stretches(
    one: NDArray[np.float64], two: NDArray[np.float64], reach: int
) -> tuple[list[NDArray[np.float64]], NDArray[np.float64]]:
    """For each stretch of the reference its correlation with the other at each lag, and its middle in steps."""
    length = max(1, min(round(STRETCH_S / HOP_S), len(one)))
    padded = np.pad(two, ((reach, reach + length), (0, 0)))
    found, middles = [], []
    for start in range(0, len(one), length):
        part = one[start : start + length]
        room = padded[start : start + len(part) + 2 * reach]
        size = 1 << (len(room) + len(part) - 1).bit_length()
        room_lines, part_lines = np.fft.rfft(room, size, axis=0), np.fft.rfft(part, size, axis=0)
        found.append(np.fft.irfft((room_lines * np.conj(part_lines)).sum(axis=1), size)[: 2 * reach + 1])
        middles.append(start + len(part) / 2)
    return found, np.array(middles)


def _shared_energy(
    one: NDArray[np.float64], two: NDArray[np.float64], places: NDArray[np.int64]
) -> NDArray[np.float64]:
    """The geometric mean of both energies in what both hold at each lag; 0 where that is too little to tell."""
    sums = [
        np.concatenate([[0.0], np.cumsum(np.sum(np.square(each), axis=1, dtype=np.float64))]) for each in (one, two)
    ]
    begin = np.clip(-places, 0, len(one))
    end = np.maximum(begin, np.minimum(len(one), len(two) - places))
    energy_one = sums[0][end] - sums[0][begin]
    energy_two = sums[1][np.clip(end + places, 0, len(two))] - sums[1][np.clip(begin + places, 0, len(two))]
    least = max(LEAST_SHARE * min(len(one), len(two)), min(LEAST_S / HOP_S, 0.5 * min(len(one), len(two))))
    return np.where(end - begin >= least, np.sqrt(energy_one * energy_two), 0.0)


def _top(values: NDArray[np.float64], at: int) -> tuple[float, float]:
    """Where the parabola through a peak and its neighbours has its top, in places from it, and how high it is."""
    if not 0 < at < values.size - 1:
        return 0.0, float(values[at])
    before, here, after = (float(values[at + step]) for step in (-1, 0, 1))
    bend = before - 2 * here + after
    if bend >= 0 or min(before, after) < 0:
        return 0.0, here
    between = float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))
    return between, here - 0.25 * (before - after) * between


def _shifted(series: NDArray[np.float64], by: int) -> NDArray[np.float64]:
    """A series read later by so many places, with nothing beyond its ends."""
    if by == 0:
        return series
    result = np.zeros_like(series)
    if by > 0:
        result[:-by] = series[by:]
    else:
        result[-by:] = series[:by]
    return result
