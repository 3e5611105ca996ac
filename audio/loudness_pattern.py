"""How unlike the music sounds through several setups, stretch by stretch, from band powers over time. Pure.

The measure: each setup's loudness in each auditory filter, half second by half second, at one assumed playback level
and with the stretch's overall level difference taken off; how far two setups lie apart, summed over the filters, is
the difference in sone, and a stretch's is the mean over it. It ranks stretches; it does not predict whether a listener
passes a blind test.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from .auditory import erb_number, filters, frequency_hz, specific_loudness, threshold_db
from .levels.k_weighting import k_weighting

Numbers = NDArray[np.float64]

LISTENING_DB = 75.0  # SPL at which a track as a whole is taken to play: a usual level at home; our choice
GATE_DB = 10.0  # half seconds this far below the mean say little about how loud a track plays (as BS.1770's gate)
CELL_S = 0.5  # averaged over a second, so that recordings some tens of milliseconds apart show no difference
BANDS_A_FILTER = 2
LOWEST, HIGHEST_HZ = 1.0, 16_000.0  # first filter on the ERB-rate scale (26 Hz); the last one's centre


def band_edges(rate_hz: int) -> list[float]:
    """The edges of the bands, two to each auditory filter, whose powers are asked for at a rate, in Hz."""
    highest = erb_number(min(HIGHEST_HZ, rate_hz / 2))
    filters_fitting = int(highest - LOWEST) + 1
    steps = np.arange(BANDS_A_FILTER * filters_fitting + 1) / BANDS_A_FILTER
    edges = frequency_hz(LOWEST - 0.5 + steps)
    return [float(edge) for edge in edges if edge <= rate_hz / 2]


@dataclass(frozen=True, eq=False)
class Cells:
    """One setup's track by half seconds, at the level at which it is taken to play.

    Attributes
    ----------
    above_threshold
        What each filter lets through over what it would at the threshold in quiet; shape (cells, filters).
    level
        K-weighted power of each cell, the track's own as a whole being 1.
    """

    above_threshold: Numbers
    level: Numbers


def cells(powers: Numbers, edges_hz: Sequence[float], hop_s: float) -> Cells:
    """The cells of band powers of shape (steps, bands), a step each `hop_s` seconds; one or more of them."""
    edges = np.asarray(edges_hz)
    middles_hz = np.sqrt(edges[1:] * edges[:-1])
    by_cell = _by_seconds(powers, round(CELL_S / hop_s))
    level = by_cell @ k_weight(middles_hz)
    gated = level[level >= np.mean(level) * 10 ** (-GATE_DB / 10)]
    own = float(np.mean(gated))
    centres_hz = frequency_hz(np.arange(LOWEST, float(erb_number(edges[-1])) - 0.4))
    let_through = filters(middles_hz, centres_hz) * 10 ** ((LISTENING_DB - threshold_db(centres_hz)) / 10) / own
    return Cells(by_cell @ let_through, level / own)


def difference_sone(setups: Sequence[Cells], start: int, end: int) -> tuple[float, float]:
    """How far the two setups least alike differ over some cells, and how loud the stretch is; both in sone."""
    count = end - start
    levels = [float(one.level[start:end].sum() / count) for one in setups]
    common = float(np.exp(np.mean(np.log(levels))))
    patterns = [
        specific_loudness(one.above_threshold[start:end] * (common / level))
        for one, level in zip(setups, levels, strict=True)
    ]
    apart = max(float(np.abs(one - other).sum()) for one, other in combinations(patterns, 2)) / count
    return apart, sum(float(pattern.sum()) for pattern in patterns) / count / len(patterns)


def _by_seconds(powers: Numbers, steps: int) -> Numbers:
    """Means over a second about each half second."""
    starts = np.arange(0, len(powers), steps)
    counts = np.diff(np.append(starts, len(powers)))
    halves = np.pad(np.add.reduceat(powers, starts) / counts[:, None], ((1, 1), (0, 0)), mode="edge")
    return np.asarray((halves[:-2] + 2 * halves[1:-1] + halves[2:]) / 4)


def k_weight(freq_hz: Numbers) -> Numbers:
    """The K-weighting's gain on powers."""
    rate_hz = 96_000  # where the filter's shape is that of its analogue original over the whole band
    back = np.exp(-2j * np.pi * freq_hz[:, None] / rate_hz * np.arange(3))
    gain = np.ones(len(freq_hz), dtype=complex)
    for section in k_weighting(rate_hz):
        gain *= (back @ section[:3]) / (back @ section[3:])
    return np.square(np.abs(gain))
