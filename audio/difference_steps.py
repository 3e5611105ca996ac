"""One sound, and the same changed by each of several sizes of a difference, all of them ready to be played. Pure.

What is played beside what it is compared with is never louder than the file allows: where the largest would come too
near to full scale, all of them are made quieter alike, so that between them nothing changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .clip import Clip
from .known_difference import CEILING_DBTP, Change, levelled
from .levels.true_peak import true_peak_db
from .levels.weighting import By


@dataclass(frozen=True, eq=False)
class DifferenceSteps:
    """The sound as it is and with each difference: float32, shape (1 + sizes, frames, channels), and its rate.

    `gain_db` is what was added to all of them alike: 0, or less where one would have come too near to full scale.
    """

    sounds: NDArray[np.float32]
    rate_hz: int
    gain_db: float


def difference_steps(clip: Clip, differences: Sequence[Change], by: By) -> DifferenceSteps:
    """The clip with each of the differences; lifts as loud as the clip in the measure `by`.

    Raises
    ------
    ValueError
        If a band does not lie below half the rate; the message says which would.
    MeasureError
        If the clip is too quiet to have a level.
    """
    made = [clip, *(levelled(clip, difference, by) for difference in differences)]
    peaks = [true_peak_db(one.samples, one.rate_hz) for one in made]
    highest_db = max((peak for peak in peaks if peak is not None), default=CEILING_DBTP)
    gain_db = min(0.0, CEILING_DBTP - highest_db)
    sounds = np.stack([(one.samples * 10 ** (gain_db / 20)).astype(np.float32) for one in made])
    return DifferenceSteps(sounds, clip.rate_hz, gain_db)
