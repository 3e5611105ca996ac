"""Gaps: where a list of frequencies leaves so much out that nothing was measured there. Pure."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

WIDE_OCTAVES = 1 / 3  # our choice: published bands are as wide
TIMES_USUAL = 4.0
COARSEST_OCTAVES = 0.5  # of the usual spacing: what is read more rarely than this is a handful of points

Bands = tuple[tuple[float, float], ...]


def gaps_of(hz: NDArray[np.float64]) -> Bands:
    """The gaps between rising frequencies: from and to, Hz.

    A gap is wider than a third of an octave, than four times the usual spacing in octaves, and than four times the
    nearest spacing in Hz: evenly spaced frequencies lie an octave apart at their low end, and nothing lacks there.

    >>> gaps_of(np.array([20.0, 25, 31.5, 40, 160, 200, 250]))
    ((40.0, 160.0),)
    """
    if len(hz) < 4:
        return ()
    octaves, steps = np.diff(np.log2(hz)), np.diff(hz)
    beside = np.minimum(np.append(np.inf, steps[:-1]), np.append(steps[1:], np.inf))
    wide = octaves > np.maximum(WIDE_OCTAVES * (1 + 1e-2), TIMES_USUAL * np.median(octaves))
    return tuple((float(hz[at]), float(hz[at + 1])) for at in np.flatnonzero(wide & (steps > TIMES_USUAL * beside)))


def is_sparse(hz: NDArray[np.float64]) -> bool:
    """Whether it is but a handful of points, between which anything may lie."""
    return len(hz) < 4 or float(np.median(np.diff(np.log2(hz)))) > COARSEST_OCTAVES


def between(hz: NDArray[np.float64]) -> Bands:
    """The gaps of a handful of points: every two with what lies between them; of more points those there are."""
    if not is_sparse(hz):
        return gaps_of(hz)
    return tuple((float(low), float(high)) for low, high in pairwise(hz))


def few_in_words(hz: NDArray[np.float64]) -> str:
    """How few points there are, over all and in an octave."""
    wide = float(np.log2(hz[-1] / hz[0]))
    return (
        f"{len(hz)} points only, {(len(hz) - 1) / wide:.2g} an octave, from {hz[0]:.0f} to {hz[-1]:.0f} Hz: what lies "
        "between them is not known"
    )


def inside(hz: NDArray[np.float64], gaps: Bands) -> NDArray[np.bool_]:
    """Which frequencies lie within a gap; its ends were measured."""
    found = np.zeros(len(hz), dtype=bool)
    for low, high in gaps:
        found |= (hz > low * (1 + 1e-9)) & (hz < high * (1 - 1e-9))
    return found


def joined(*several: Bands) -> Bands:
    """The gaps of several curves as those of what is read from all of them."""
    made: list[tuple[float, float]] = []
    for low, high in sorted(one for gaps in several for one in gaps):
        if made and low < made[-1][1]:
            made[-1] = (made[-1][0], max(high, made[-1][1]))
        else:
            made.append((low, high))
    return tuple(made)


def in_words(gaps: Bands) -> str:
    """That nothing was measured there; of gaps that meet in points, how few these are."""
    if len(gaps) > 1 and all(before[1] == after[0] for before, after in pairwise(gaps)):
        return few_in_words(np.array([gaps[0][0], *(high for _, high in gaps)]))
    return f"nothing was measured from {' and from '.join(f'{low:.0f} to {high:.0f} Hz' for low, high in gaps)}"
