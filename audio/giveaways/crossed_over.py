"""Whether a width that seems to move is but the middle that crosses over into the side, which stays. Pure.

A room has another response to each channel, so that the middle's reverberation is in the side: other notes then have
another side, and nothing moved. So the side is explained by side and middle of the other recording, by weights that
stay, and once more with the side moving as it seems to: a true movement leaves less unexplained.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .gain_course import AUDIBLE, LINES_AT_ONCE, SOFTENING, WET_TAPS, Lines, Moments, Signal, with_earlier
from .width import middle_and_side

# of what is left unexplained without a movement: planted ones of 5 to 9 dB left 0.05 to 0.9, before a room, after it or
# in none; of tones in a room with nothing planted 1.08 to 1.6 was left. The larger of both directions; measured here.
STILL_LEFT = 0.97


def moves(one: Moments, two: Moments, groups: NDArray[np.int64], course_db: Signal) -> bool:
    """Whether the second's side moves by so many dB in groups of moments (NaN: not known), whatever crosses over."""
    known = ~np.isnan(course_db)
    gains = 10 ** (course_db[known] / 20)
    there = _left(one, two, groups[known], gains) / _left(one, two, groups[known], np.ones_like(gains))
    back = _left(two, one, groups[known], 1 / gains) / _left(two, one, groups[known], np.ones_like(gains))
    return max(there, back) < STILL_LEFT


def _left(one: Moments, two: Moments, groups: NDArray[np.int64], gains: Signal) -> float:
    """The part of the second's side that follows from neither part of the first, the side with these gains."""
    (middle, side), (_, wanted) = middle_and_side(one), middle_and_side(two)
    used, gain = groups.ravel(), np.repeat(gains, groups.shape[1])[:, None]
    own, energy = (np.sum(np.square(np.abs(each)), axis=1) for each in (side, wanted[:, used]))
    heard = np.flatnonzero((energy > AUDIBLE * energy.max(initial=0.0)) & (own > AUDIBLE * own.max(initial=0.0)))
    left = 0.0
    for some in np.array_split(heard, max(1, heard.size // LINES_AT_ONCE)):
        moving = gain * with_earlier(side[some], WET_TAPS)[:, used]
        left += _unexplained(wanted[some][:, used], moving, with_earlier(middle[some], WET_TAPS)[:, used])
    return left / max(float(energy[heard].sum()), 1e-20)


def _unexplained(wanted: Lines, moving: Lines, staying: Lines) -> float:
    """The energy of lines (lines, moments) that no weights of these (lines, moments, taps) explain."""
    known = np.concatenate([moving, staying], axis=-1).astype(np.complex128)
    turned = known.conj().swapaxes(-1, -2)
    normal = turned @ known
    soft = SOFTENING / known.shape[-1] * np.trace(normal, axis1=1, axis2=2).real + 1e-20
    normal += soft[:, None, None] * np.eye(known.shape[-1])
    weights = np.linalg.solve(normal, turned @ wanted[..., None])
    return float(np.sum(np.square(np.abs(wanted - (known @ weights)[..., 0]))))
