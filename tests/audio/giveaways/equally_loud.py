"""What is found between two recordings that are brought to equal loudness."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audio.clip import Clip
from audio.giveaways import inspection
from audio.giveaways.findings import Finding
from audio.levels.weighting import level_db

RATE_HZ = 48_000
Samples = NDArray[np.float64]


def decibels(level_db: float | Samples) -> Samples:
    return np.asarray(10 ** (np.asarray(level_db) / 20))


def found_between(one: Samples, two: Samples) -> list[Finding]:
    """What is found between two recordings, brought to equal loudness."""
    levels = [level_db(Clip(each, RATE_HZ), "bs1770") for each in (one, two)]
    assert levels[0] is not None
    assert levels[1] is not None
    clips = {"one": Clip(one, RATE_HZ), "two": Clip(two * decibels(levels[0] - levels[1]), RATE_HZ)}
    return inspection.inspect("p", clips)
