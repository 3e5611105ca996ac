"""Two channels that change places in mid-passage: as the reference has them on one side, exchanged on the other. Pure.

It is asked of coherence, as the order of channels is (`wiring`), before and after each moment: neither a level, a
polarity nor a filter changes it, so that a balance that moves is none.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..track_time import told as told_place
from .findings import LIMITS, Finding, finding
from .wiring import moments

WINDOW_S = 0.17
SHORTEST_S = 1.0  # on either side
BRIEF_S, BRIEF_LIMIT = 0.4, 0.5  # on either side, where so much is better: of few moments, more are alike by chance
BAND_HZ = (200.0, 5000.0)
AUDIBLE = 1e-4  # of a channel's strongest line
PAUSE = 1e-4  # of the loudest moment
LEAST = 1e-4  # of a channel unexplained by another: below, their order cannot be known
LITTLE = 0.001  # of each channel, all in all: nothing is exchanged where its own explains so much of it
Signal = NDArray[np.float64]
Lines = NDArray[np.complex128]


@dataclass(frozen=True)
class Exchange:
    """The two channels (from 0) that change places, when, in seconds, and whether they are exchanged from there on.

    Else they are up to there. `better` is the share of what the straight order leaves unexplained that the other one
    explains where they are exchanged, and the other way round where they are not: the lesser of both.
    """

    channels: tuple[int, int]
    at_s: float
    after: bool
    better: float


def told(passage: str, setup: str, found: Exchange, count: int, begun_s: float | None = 0.0) -> list[Finding]:
    """What is to be said of it, of `count` channels. The clips begin `begun_s` into the passage; None: not known."""
    one, two = (place + 1 for place in found.channels)
    which = "left and right" if count == 2 else f"channels {one} and {two}"
    part = "from mid-passage on" if found.after else "up to mid-passage"
    if begun_s is not None:
        place = told_place(begun_s + found.at_s, 1)
        part = f"from about {place} into the passage on" if found.after else f"up to about {place} into the passage"
    what = (
        f"{which} of {setup} are exchanged {part}, against the reference (leads or a switch moved, or an edit in one "
        "of them?); record it again, or leave that stretch out"
    )
    return [finding("channels-swapped", setup, passage, found.better, what)]


def exchange(reference: Clip, other: Clip) -> Exchange | None:
    """Which channels change places, of clips in step with the same channels, as they were recorded; None: none do."""
    count = reference.channels
    window = round(WINDOW_S * reference.rate_hz / 2) * 2
    if count < 2 or count != other.channels or reference.length_s < 2 * SHORTEST_S + WINDOW_S:
        return None
    freqs = np.fft.rfftfreq(window, 1 / reference.rate_hz)
    low, high = np.searchsorted(freqs, (BAND_HZ[0], min(BAND_HZ[1], 0.45 * reference.rate_hz)))
    one, two = (moments(each.samples, window, slice(low, high)) for each in (reference, other))
    weights = [_evenly(each) for each in (one, two)]
    one, two = (each * weight[:, None, None] for each, weight in zip((one, two), weights, strict=True))
    whole = [_left(one, two, place, place, 1 / freqs[low:high])([0], [len(one)])[0] for place in range(count)]
    if max(whole) < LITTLE:
        return None
    found = [_of_pair(one, two, pair, 1 / freqs[low:high]) for pair in combinations(range(count), 2)]
    return max((each for each in found if each is not None), key=lambda each: each.better, default=None)


def straight(clip: Clip, found: Exchange, begun_s: float = 0.0) -> Clip:
    """A clip with these channels put right, its moments `begun_s` later than told. For measuring only."""
    samples = clip.samples.copy()
    at = max(0, round((found.at_s + begun_s) * clip.rate_hz))
    stretch = slice(at, None) if found.after else slice(0, at)
    samples[stretch, list(found.channels)] = clip.samples[stretch, list(found.channels)[::-1]]
    return Clip(samples, clip.rate_hz)


def _of_pair(one: Lines, two: Lines, pair: tuple[int, int], counts: Signal) -> Exchange | None:
    """Whether two channels change places, and where that explains most."""
    looks = (BRIEF_S, BRIEF_LIMIT), (SHORTEST_S, LIMITS["channels-swapped"].value)
    found = (_from(one, two, pair, counts, *each) for each in looks)
    return next((each for each in found if each is not None), None)


def _from(
    one: Lines, two: Lines, pair: tuple[int, int], counts: Signal, least_s: float, limit: float
) -> Exchange | None:
    """The same, no nearer to either end than `least_s`, if it is so much better."""
    first, second = pair
    count, shortest = len(one), round(least_s / (WINDOW_S / 2))
    places = list(range(shortest, count - shortest + 1))
    if not places:
        return None
    begin, end = [0] * len(places), [count] * len(places)
    as_they_are = [_left(one, two, place, place, counts) for place in pair]
    exchanged = [_left(one, two, *each, counts) for each in ((first, second), (second, first))]
    before, after = (
        [sum((each(*span) for each in order), np.zeros(len(places))) + LEAST for order in (as_they_are, exchanged)]
        for span in ((begin, places), (places, end))
    )
    left = [
        np.array(places) * first_part + (count - np.array(places)) * last_part
        for first_part, last_part in ((before[1], after[0]), (before[0], after[1]))
    ]
    is_after = bool(left[1].min() < left[0].min())
    at = int(np.argmin(left[is_after]))
    right, wrong = (before, after) if is_after else (after, before)
    better = min(1 - float(right[0][at] / right[1][at]), 1 - float(wrong[1][at] / wrong[0][at]))
    if better <= limit:
        return None
    return Exchange(pair, (places[at] + 0.5) * WINDOW_S / 2, is_after, better)


def _left(one: Lines, two: Lines, mine: int, theirs: int, counts: Signal) -> Callable[[list[int], list[int]], Signal]:
    """The share of one channel that no filter makes of one of the other's, from some moments to others, 0 to 1."""
    sums = [
        np.concatenate([np.zeros((1, each.shape[1]), dtype=each.dtype), np.cumsum(each, axis=0)])
        for each in (
            np.conj(one[:, :, mine]) * two[:, :, theirs],
            np.square(np.abs(one[:, :, mine])),
            np.square(np.abs(two[:, :, theirs])),
        )
    ]
    audible = [total[-1] > AUDIBLE * total[-1].max(initial=0.0) for total in sums[1:]]
    weight = np.where(audible[0] & audible[1], counts, 0.0)
    weight = weight / max(float(weight.sum()), 1e-20)

    def share(begin: list[int], end: list[int]) -> Signal:
        across, size, others = (each[end] - each[begin] for each in sums)
        alike = np.square(np.abs(across)) / np.maximum(size * others, 1e-30)
        return np.asarray(1 - alike @ weight, dtype=np.float64)

    return share


def _evenly(lines: Lines) -> Signal:
    """By what each moment is multiplied so that loud ones do not count for all; a pause by 0."""
    power = np.square(np.abs(lines)).sum(axis=(1, 2))
    return np.where(power > PAUSE * power.max(initial=0.0), np.maximum(power, 1e-30) ** -0.25, 0.0)
