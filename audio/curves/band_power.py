"""The power mean of a response over bands of log f: the integral of all that was measured, not of samples. Pure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]

FINEST = 48  # points an octave that are set between coarser ones, on straight lines in dB
APART_OCTAVES = 1e-9  # points nearer than this are one


@dataclass(frozen=True, eq=False)
class BandPower:
    """The running integral of a response's power over log2 f, exact for straight lines of power between its points.

    Attributes
    ----------
    places
        log2 of the frequencies, rising, shape (n,).
    power
        Shape (n,).
    total
        The integral from the first place to each, shape (n,).
    """

    places: Numbers
    power: Numbers
    total: Numbers

    @classmethod
    def of(cls, hz: Numbers, level_db: Numbers) -> BandPower:
        """Of a response in dB. All its points count; between points far apart it is straight in dB along log f."""
        own = np.log2(hz)
        between = np.arange(own[0], own[-1], 1 / FINEST)
        at = np.searchsorted(own, between)  # both rise: nothing is sorted, and only what lies between is worked out
        places, levels = np.insert(own, at, between), np.insert(level_db, at, np.interp(between, own, level_db))
        apart = np.concatenate([[True], np.diff(places) > APART_OCTAVES])
        places, power = places[apart], 10 ** (levels[apart] / 10)
        parts = np.diff(places) * (power[:-1] + power[1:]) / 2
        return cls(places, power, np.concatenate([[0.0], np.cumsum(parts)]))

    def mean(self, low: Numbers, high: Numbers) -> Numbers:
        """The power mean between places (log2 f), low below high, both within the data."""
        return (self._integral(high) - self._integral(low)) / (high - low)

    def at(self, places: Numbers) -> Numbers:
        """The power at places."""
        return np.asarray(np.interp(places, self.places, self.power))

    def _integral(self, at: Numbers) -> Numbers:
        left = np.clip(np.searchsorted(self.places, at, side="right") - 1, 0, len(self.places) - 2)
        share = at - self.places[left]
        slope = (self.power[left + 1] - self.power[left]) / (self.places[left + 1] - self.places[left])
        return np.asarray(self.total[left] + share * (self.power[left] + slope * share / 2))
