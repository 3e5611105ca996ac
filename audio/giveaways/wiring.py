"""Which channel of one recording is which of another, with which polarity, and how late: found together. Pure.

Together, because each misleads the search for the others: exchanged or half-inverted channels spoil the sum from
which a delay is read, and a delay not taken off hides a polarity.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..alignment.correlation import padded_size
from ..alignment.delay import LONGEST_S, Band, align_bands, band, correlation
from ..clip import Clip

SURE = 0.3  # correlation below which nothing is said of a channel's polarity
FAINT_DB = 40.0  # what sets the channels apart must be no fainter than this, or their order cannot be known


@dataclass(frozen=True)
class Wiring:
    """How the channels of another recording answer to the reference's.

    Attributes
    ----------
    delay_s
        How late the other is; negative: early.
    correlation
        Of the two at that delay, middle band, −1 to 1; negative where the polarity is turned.
    turned
        Channels (from 0) whose polarity is turned against the other channels'; none if all are.
    order
        For each channel of the reference, the one of the other that follows it best.
    better
        By how much the mean correlation is better in that order than in the straight one; 0 if it is straight.
    pair
        The reference's and the other's channel from which the delay was read.
    """

    delay_s: float
    correlation: float
    turned: tuple[int, ...]
    order: tuple[int, ...]
    better: float
    pair: tuple[int, int]


def wiring(reference: Clip, other: Clip, around_s: float = 0.0, reach_s: float = LONGEST_S) -> Wiring | None:
    """How `other` answers to `reference`, clips of one rate; None if either is silent in the middle band."""
    size = padded_size(reference.frames, other.frames)
    one, two = band(reference.samples, reference.rate_hz, size), band(other.samples, other.rate_hz, size)
    loudest = int(np.argmax(np.sum(np.square(np.abs(one.spectra)), axis=0)))
    found = [
        (delay, place)
        for place in range(other.channels)
        if (delay := align_bands(one, loudest, two, place, around_s, reach_s)) is not None
    ]
    if not found:
        return None
    late, place = max(found, key=lambda each: abs(each[0].correlation))
    straight = [_alike(one, channel, two, channel, late.delay_s) for channel in range(_common(one, two))]
    turned = _turned(straight)
    if turned or one.spectra.shape[1] != two.spectra.shape[1]:
        order: tuple[int, ...] = tuple(range(reference.channels))
        better, likeness = 0.0, late.correlation if not turned else max(straight, key=abs)
    else:
        likeness = _sums_alike(one, two, late.delay_s)
        order, better = _order(one, two, late.delay_s, -1.0 if likeness < 0 else 1.0)
    return Wiring(late.delay_s, likeness, turned, order, better, (loudest, place))


def _common(one: Band, two: Band) -> int:
    return int(min(one.spectra.shape[1], two.spectra.shape[1]))


def _alike(one: Band, place: int, two: Band, other_place: int, delay_s: float) -> float:
    return correlation(one.spectra[:, place], two.spectra[:, other_place], one.freqs_hz, delay_s)


def _turned(straight: list[float]) -> tuple[int, ...]:
    """The channels of negative correlation, if others are as surely positive."""
    negative = tuple(place for place, value in enumerate(straight) if value <= -SURE)
    return negative if any(value >= SURE for value in straight) else ()


def _sums_alike(one: Band, two: Band, delay_s: float) -> float:
    """The correlation of the channels' sums, which no order of channels changes; of the channels if they cancel."""
    sums = correlation(one.spectra.sum(axis=1), two.spectra.sum(axis=1), one.freqs_hz, delay_s)
    if abs(sums) >= SURE:
        return sums
    return max((_alike(one, place, two, place, delay_s) for place in range(_common(one, two))), key=abs)


def _order(one: Band, two: Band, delay_s: float, sign: float) -> tuple[tuple[int, ...], float]:
    """The order in which what sets the channels apart (each less the mean of all) fits best."""
    count = one.spectra.shape[1]
    straight = tuple(range(count))
    apart_1 = one.spectra - one.spectra.mean(axis=1, keepdims=True)
    apart_2 = two.spectra - two.spectra.mean(axis=1, keepdims=True)
    if count < 2 or _faint(apart_1, one.spectra) or _faint(apart_2, two.spectra):
        return straight, 0.0
    from scipy.optimize import linear_sum_assignment

    fits = np.array(
        [[sign * correlation(apart_1[:, i], apart_2[:, j], one.freqs_hz, delay_s) for j in straight] for i in straight]
    )
    _, order = linear_sum_assignment(-fits)
    better = float(np.mean(fits[list(straight), order]) - np.mean(np.diag(fits)))
    return (tuple(int(place) for place in order), better) if better > 0 else (straight, 0.0)


def _faint(apart: NDArray[np.complex128], whole: NDArray[np.complex128]) -> bool:
    return bool(np.sum(np.square(np.abs(apart))) <= 10 ** (-FAINT_DB / 10) * np.sum(np.square(np.abs(whole))))
