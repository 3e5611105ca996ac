"""How strong the filter between two recordings can be, line by line: what it foretells at least and at most. Pure.

A filter learnt from two recordings is too weak where the first has noise, and its inverse is so where the second has.
So in each line it is between the two; and where music is too faint to tell, about as strong as where it tells it well.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .filter_residual import BothWays, Signal, filtered

TELLS = 0.5  # of coherence
FEWEST = 3.0  # lines
TOGETHER = 3.0  # lines that a filter of a window of this length gives about the same strength
WITHIN = 1.26  # what a loudspeaker's response moves within a third of an octave, as power
FAR = 10.0  # what it moves to a band in which no line tells it
SURE = 2.5
Values = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Spare:
    """What a filter may foretell beyond what the one learnt does, as (frames,), powers to be added: least and most."""

    least: Signal
    most: Signal


def spare(known: BothWays, places: NDArray[np.intp]) -> tuple[Spare, Spare]:
    """What the filters from the first to the second, and back, may foretell beyond what is learnt.

    Parameters
    ----------
    places
        The lines where bands meet.
    """
    sizes = known.sizes
    forward, back = (_between(known.told, one, two, places) for one, two in (sizes, sizes[::-1]))
    learnt = [np.square(np.abs(each)).astype(np.float64) for each in known.answers]
    return _spare(known.waves[0], learnt[0], forward), _spare(known.waves[1], learnt[1], back)


def _spare(source: Values, learnt: Values, bounds: tuple[Values, Values]) -> Spare:
    return Spare(*filtered(source, *(np.sqrt(np.maximum(each - learnt, 0.0)).astype(np.complex64) for each in bounds)))


def _between(told: Values, power: Values, power_heard: Values, places: NDArray[np.intp]) -> tuple[Values, Values]:
    """The least and most of a filter's power gain in each line; 0 beyond the bands."""
    ratio = power_heard / np.maximum(power, 1e-20)
    low, high = told * ratio, ratio / np.maximum(told, 1e-6)
    about = [_about(told[a:b], low[a:b], high[a:b]) for a, b in itertools.pairwise(places)]
    least, most = np.zeros_like(told), np.zeros_like(told)
    known = [at for at, each in enumerate(about) if each is not None]
    for at, (a, b) in enumerate(itertools.pairwise(places)):
        least[a:b], most[a:b] = low[a:b], high[a:b]
        if known:
            nearest = min(known, key=lambda each: abs(each - at))
            near = about[nearest]
            assert near is not None
            far = 1.0 if nearest == at else FAR
            # a line that tells little is coherent by chance: of a faint one beside a noise that would be a great deal
            own = np.where(told[a:b] > TELLS, low[a:b], np.minimum(low[a:b], near[1] * far))
            most[a:b] = np.maximum(own, np.minimum(high[a:b], near[1] * far))
            least[a:b] = np.minimum(most[a:b], np.maximum(own, near[0] / far))
    return least, most


def _about(told: Values, low: Values, high: Values) -> tuple[float, float] | None:
    """The mean power gain of a band at least and at most, from the lines that tell it; None if they are too few."""
    some = told > TELLS
    weight = told[some] / (1.01 - told[some])
    count = float(np.sum(weight) ** 2 / max(float(np.sum(np.square(weight))), 1e-20)) / TOGETHER
    if count < FEWEST:
        return None
    weight /= weight.sum()
    least, most = float(weight @ low[some]), float(weight @ high[some])
    off = SURE * float(np.sqrt(weight @ np.square(low[some] - least) / count))
    return max(least - off, 0.0) / WITHIN, (most + off) * WITHIN
