"""Peaks held down in one recording and not in the other: a limiter, or clipping however it was processed later. Pure.

The filter that lies between the two (a loudspeaker, an equaliser, a room) is estimated over the whole passage, and
one is predicted from the other by it. What was clipped or limited is smaller at its peaks than predicted, and
elsewhere not. It is asked in both directions, since the peaks may have been held down before the filter or after it;
and only where the filter explains nearly all, since what it leaves unexplained is largest at peaks too. Two
recordings of music that was limited before either was made explain one another.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from .findings import LIMITS, Finding, finding

Signal = NDArray[np.float32]

WINDOW_S = 0.68  # of the filter's estimate; half of it may be the filter's own length
BEFORE_S, AFTER_S = 0.02, 0.3  # of the filter's response about its direct sound
NEIGHBOURS = 401  # lines over which the music's spectrum is smoothed: what lies far below them is noise
FAINT = 1e-3
PEAKS = 16  # the highest, each in a stretch of its own
FEWEST_PEAKS = 5
NO_PEAK = 0.4  # of the highest; lower ones tell of the music's soft moments
HELD_PEAKS = 3  # so many must be; one or two may be clicks of the other
EXPLAINED = 0.95
AMPLITUDE_DB = 13.0  # half as much again as an error is of the amplitude: what is not explained gathers at peaks
TOP = 0.9  # of a peak: so far it reaches
BODY = (0.15, 0.5)  # of the typical peak
SLOPES = (0.2, 0.7)  # of its own peak, and so near:
NEAR_S = 0.0015
OWN = 0.35  # of what the peak is held down by: what moves its slopes by less acts on the peak alone


@dataclass(frozen=True)
class Held:
    """How far the other's peaks are held down against the reference's, in dB (negative: the reference's are).

    `slopes_db` is by how much what lies within 1.5 ms of them is: as much by a limiter, nothing by clipping.
    """

    peaks_db: float
    slopes_db: float

    @property
    def is_clipping(self) -> bool:
        """Whether it acts on the peaks alone."""
        return abs(self.slopes_db) < OWN * abs(self.peaks_db)


def told(passage: str, setup: str, found: Held) -> list[Finding]:
    """What is to be said of it: nothing within the limit."""
    if abs(found.peaks_db) <= LIMITS["limiter"].value:
        return []
    who, than = (setup, "the reference") if found.peaks_db > 0 else ("the reference", setup)
    far = f"{abs(found.peaks_db):.1f} dB"
    if found.is_clipping:
        what = f"{who} is clipped, unlike {than}: its peaks are cut off by {far}; record it again at a lower level"
        return [finding("clipping-under", setup, passage, found.peaks_db, what)]
    what = f"{who} went through a limiter, unlike {than}: its peaks are held down by {far}; record it again without"
    return [finding("limiter", setup, passage, found.peaks_db, what)]


def held_down(reference: Clip, other: Clip) -> Held | None:
    """How far the peaks of the one are held down against the other's; None where that cannot be told."""
    window = 1 << int(np.log2(WINDOW_S * reference.rate_hz) + 0.5)
    if reference.frames < 3 * window or reference.channels != other.channels:
        return None
    highest = {int(np.argmax(np.abs(clip.samples).max(axis=0))) for clip in (reference, other)}
    found = []
    for channel in sorted(highest):
        one, two = (clip.samples[:, channel].astype(np.float32) for clip in (reference, other))
        found += _both_ways(one, two, reference.rate_hz, window)
    return max(found, key=lambda each: abs(each.peaks_db), default=None)


def hidden(reference: Clip, other: Clip) -> bool:
    """Whether peaks may be held down beyond the limit unseen: no filter explains enough, and nothing stands out."""
    window = 1 << int(np.log2(WINDOW_S * reference.rate_hz) + 0.5)
    channel = int(np.argmax(np.abs(other.samples).max(axis=0)))
    one, two = (clip.samples[:, channel].astype(np.float32) for clip in (reference, other))
    left = min(way.left for way in _ways(one, two, reference.rate_hz, window))
    limit_db = LIMITS["limiter"].value
    if left < 1 - EXPLAINED and AMPLITUDE_DB * float(np.sqrt(left)) <= limit_db:
        return False
    found = held_down(reference, other)
    return found is None or abs(found.peaks_db) <= limit_db


@dataclass(frozen=True)
class _Way:
    """The loudest stretches of one recording, as they are and as predicted; what is left over; +1 for the other's."""

    true: Signal
    predicted: Signal
    left: float
    sign: int


def _ways(one: Signal, two: Signal, rate_hz: int, window: int) -> list[_Way]:
    one, two = one - one.mean(), two - two.mean()  # an offset is no part of what a filter makes
    across, mine, theirs = _spectra(one, two, window)
    places = _loudest(one, two, window // 4)
    found = []
    for source, target, cross, power, sign in ((one, two, across, mine, 1), (two, one, across.conj(), theirs, -1)):
        predicted = _predicted(source, _filter(cross, power, rate_hz), places, window)
        true = np.array([target[place : place + window // 4] for place in places])
        left = float(np.sum(np.square(true - predicted)) / max(float(np.sum(np.square(true))), 1e-20))
        found.append(_Way(true, predicted, left, sign))
    return found


def _both_ways(one: Signal, two: Signal, rate_hz: int, window: int) -> list[Held]:
    found = []
    for way in _ways(one, two, rate_hz, window):
        held = _held(way.true, way.predicted, rate_hz) if way.left < 1 - EXPLAINED else None
        if held is not None and abs(held.peaks_db) > AMPLITUDE_DB * np.sqrt(way.left):
            found.append(Held(way.sign * held.peaks_db, way.sign * held.slopes_db))
    return found


def _held(true: Signal, predicted: Signal, rate_hz: int) -> Held | None:
    """How far the true one is below the predicted one at the peaks of both, and near by; rows are stretches."""
    size = np.sqrt(np.maximum(true * predicted, 0))  # of both alike: what is only noise in one makes no peak
    order = np.argsort(-size.max(axis=1))[:PEAKS]
    tops = size[order].max(axis=1)
    order, tops = order[tops > NO_PEAK * tops[0]], tops[tops > NO_PEAK * tops[0]]
    if order.size < FEWEST_PEAKS:
        return None
    typical = float(np.median(tops))
    body = _apart_db(true, predicted, (size > BODY[0] * typical) & (size < BODY[1] * typical))
    near = round(NEAR_S * rate_hz)
    held = []
    for row, top in zip(order, tops, strict=True):
        where = int(np.argmax(size[row]))
        around = slice(max(0, where - near), where + near + 1)
        own, one, two = size[row, around], true[row, around], predicted[row, around]
        at_peak = body - _apart_db(one, two, own >= TOP * top)
        slopes = (own > SLOPES[0] * top) & (own < SLOPES[1] * top)
        held.append((at_peak, body - _apart_db(one, two, slopes) if slopes.any() else 0.0))
    held.sort()
    third = max(held[HELD_PEAKS - 1], held[-HELD_PEAKS], key=lambda each: abs(each[0]))
    alike = [slope for peak, slope in held if peak * third[0] > 0 and abs(peak) >= abs(third[0])]
    return Held(third[0], float(np.median(alike)))


def _apart_db(true: Signal, predicted: Signal, where: NDArray[np.bool_]) -> float:
    return 10 * float(
        np.log10(
            max(float(np.sum(np.square(true[where]))), 1e-20) / max(float(np.sum(np.square(predicted[where]))), 1e-20)
        )
    )


def _spectra(one: Signal, two: Signal, window: int) -> tuple[NDArray[np.complex64], Signal, Signal]:
    """The cross-spectrum and both powers, over half overlapping windows."""
    from scipy.fft import rfft

    shape = np.hanning(window).astype(np.float32)
    across: NDArray[np.complex64] = np.zeros(window // 2 + 1, dtype=np.complex64)
    mine, theirs = np.zeros(across.size, dtype=np.float32), np.zeros(across.size, dtype=np.float32)
    for start in range(0, one.size - window + 1, window // 2):
        first, second = (rfft(each[start : start + window] * shape) for each in (one, two))
        across += second * first.conj()
        mine += np.square(np.abs(first))
        theirs += np.square(np.abs(second))
    return across, mine, theirs


def _filter(across: NDArray[np.complex64], power: Signal, rate_hz: int) -> NDArray[np.complex64]:
    from scipy.fft import irfft, rfft
    from scipy.ndimage import uniform_filter1d

    nearby = uniform_filter1d(power, NEIGHBOURS)
    floor = FAINT * nearby + 1e-7 * power.max()
    usual = uniform_filter1d(across, NEIGHBOURS) / (nearby + 1e-7 * power.max())  # between the lines of held notes
    response = irfft((across + floor * usual) / (power + floor))
    response[round(AFTER_S * rate_hz) : -round(BEFORE_S * rate_hz)] = 0
    return np.asarray(rfft(response))


def _loudest(one: Signal, two: Signal, stretch: int) -> list[int]:
    """Where the stretches begin that have the highest peaks in either; a window about each lies within the signals."""
    size = np.maximum(
        np.abs(one) / max(float(np.abs(one).max()), 1e-9), np.abs(two) / max(float(np.abs(two).max()), 1e-9)
    )
    count = size.size // stretch
    highest = size[: count * stretch].reshape(count, stretch).max(axis=1)[2 : count - 1]
    return [int(place + 2) * stretch for place in np.argsort(-highest)[: PEAKS + 2]]


def _predicted(source: Signal, response: NDArray[np.complex64], places: list[int], window: int) -> Signal:
    """The source through the filter, a quarter of a window from each place on."""
    from scipy.fft import irfft, rfft

    quarter = window // 4
    made = [
        irfft(rfft(source[p - 2 * quarter : p + 2 * quarter]) * response)[2 * quarter : 3 * quarter] for p in places
    ]
    return np.asarray(made)
