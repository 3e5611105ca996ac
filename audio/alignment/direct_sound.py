"""Where the direct sound of one recording lies against the other's, in rooms that are louder than it. Pure.

What a room reflects differs from channel to channel and from one frequency to the next; the direct sound alone comes at
one delay in all of them. So all channels, all places and many octaves are asked together.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from .correlation import Signal, padded_size
from .delay import Band, Spectrum, band, peak

WIDE_HZ = (300.0, 10_000.0)
FAINTEST = 1e-30
PLAIN = 0.4  # certainty: of 46 pairs in rooms 5 to 14 dB louder, 0.33 and less where another delay was the best


def start_s(places: Iterable[tuple[Signal, Signal]], rate_hz: int, around_s: float, reach_s: float) -> float | None:
    """How late the other's direct sound is, in seconds; None where no delay is plainly that.

    Parameters
    ----------
    places
        Of each place the reference and the other, of shape (frames, channels), all of one length.
    around_s, reach_s
        About which delay it is sought, and how far from it.
    """
    known: Band | None = None
    sums: list[Spectrum] = []
    for one, two in places:
        if one.shape[1] != two.shape[1]:
            return None
        size = padded_size(len(one), len(two))
        first, second = (band(each, rate_hz, size, WIDE_HZ) for each in (one, two))
        ways = _ways(first, second)
        sums = [so_far + more for so_far, more in zip(sums, ways, strict=True)] if sums else ways
        known = first
    if known is None:
        return None
    found = [peak(each, known, around_s, reach_s) for each in sums if np.any(each)]
    delay_s, _, _, certainty = max(found, key=lambda each: each[3], default=(0.0, 0.0, None, 0.0))
    return delay_s if certainty >= PLAIN else None


def _ways(one: Band, two: Band) -> list[Spectrum]:
    """What the channels share, each with its own; of two also exchanged."""
    channels = range(one.spectra.shape[1])
    own = [_white(one, channel, two, channel) for channel in channels]
    if len(own) != 2:
        return [np.sum(own, axis=0)]
    return [own[0] + own[1], _white(one, 0, two, 1) + _white(one, 1, two, 0)]


def _white(one: Band, place: int, two: Band, other_place: int) -> Spectrum:
    """Each line at the size of 1, faint treble too: the direct sound is plainest there, and noise has no one delay."""
    cross = two.spectra[:, other_place] * np.conj(one.spectra[:, place])
    return np.asarray(cross / np.maximum(np.abs(cross), FAINTEST))
