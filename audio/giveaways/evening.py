"""How much of another balance a room's tail may have made: it comes to all channels alike, and so evens them. Pure.

A source that plays to one side keeps its side in the direct sound, and is as loud in every channel of a diffuse tail.
Of the wetter recording each channel may thus lie anywhere between where the drier one's lies and even.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from .filter_residual import WELL, shares_left

SURELY = 1.05  # times less left over of the wetter recording than of the drier: else either may be the wetter
Levels = NDArray[np.float64]


def ways(reference: Clip, other: Clip) -> tuple[bool, ...]:
    """Whether the other is the wetter of two in step, or either may be; empty where no room lies between them."""
    left = [
        shares_left(reference.samples[:, place], other.samples[:, place], reference.rate_hz)
        for place in range(reference.channels)
    ]
    if all(min(each) <= WELL for each in left):
        return ()
    of_other, of_reference = (sum(each) for each in zip(*left, strict=True))
    if of_reference > SURELY * of_other:
        return (True,)
    return (False,) if of_other > SURELY * of_reference else (True, False)


def beyond_evening(mine_db: Levels, theirs_db: Levels, other_is_wetter: bool) -> Levels:
    """By how much more than a tail makes of it each channel of the other is louder than the rest, in each band.

    Parameters
    ----------
    mine_db, theirs_db
        The levels of the reference's and the other's channels, of shape (bands, channels).
    """
    mine, theirs = (each - each.mean(axis=1, keepdims=True) for each in (mine_db, theirs_db))
    dry, wet = (mine, theirs) if other_is_wetter else (theirs, mine)
    beyond = wet - np.clip(wet, np.minimum(dry, 0), np.maximum(dry, 0))
    return np.asarray(beyond if other_is_wetter else -beyond)


def unevenness_db(levels_db: Levels, louder: int, fainter: int) -> float:
    """How far apart two channels lie in the middle band: so much a tail may take off."""
    return abs(float(np.median(levels_db[:, louder] - levels_db[:, fainter])))
