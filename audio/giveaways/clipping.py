"""Flat tops: whether one of two recordings stays at its own ceiling more often than the other. Pure."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from .findings import LIMITS, Finding, finding

FLAT_RUN = 4  # samples in a row at the ceiling
FLAT_WITHIN = 2e-6  # dither and rounding to 24 bits move a flat top by less
QUIETEST_CEILING = 0.01  # a peak below −40 dBFS is no ceiling


def clipping(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """Whether one of two recordings is flat-topped more often than the other; best asked of the files' own samples.

    What is measured is negative where the reference is.
    """
    one, two = clipped_runs(reference), clipped_runs(other)
    if abs(two - one) <= LIMITS["clipping"].value:
        return []
    who, than = (setup, "the reference") if two > one else ("the reference", setup)
    what = f"{who} clips more often than {than} ({max(one, two)} flat tops against {min(one, two)})"
    return [finding("clipping", setup, passage, two - one, what)]


def clipped_runs(clip: Clip) -> int:
    """How often a channel stays at its own ceiling for four samples or more."""
    runs = 0
    for channel in clip.samples.T:
        for sign in (1.0, -1.0):
            runs += _flat_runs(sign * channel)
    return runs


def _flat_runs(channel: NDArray[np.float64]) -> int:
    ceiling = float(channel.max())
    if ceiling < QUIETEST_CEILING:
        return 0
    flat = np.concatenate([[False], channel >= ceiling - FLAT_WITHIN, [False]])
    edges = np.flatnonzero(np.diff(flat.astype(np.int8)))
    return int(np.sum(edges[1::2] - edges[::2] >= FLAT_RUN))
