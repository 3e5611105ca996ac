"""Ratings drawn as listeners give them: whole numbers on a scale, of setups of which one lies higher. Pure.

What is planned with them is the power of the tests of rated words (`rated_pairs_power`, `many_setups_power`).
"""

from __future__ import annotations

from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from .rating_scale import LEAST, MOST, SPREAD

WIDEST = 3.2  # points between two setups, so that both fit on the scale; beyond, the ratings spread less instead
ROUNDED = 1 / sqrt(12)  # what rounding adds to the spread (Sheppard 1898, from memory)


def drawn(rng: np.random.Generator, sets: int, trials: int, setups: int, lift_sd: float) -> NDArray[np.float64]:
    """Sets of ratings, each a whole number; shape (sets, trials, setups).

    Parameters
    ----------
    lift_sd
        By how many standard deviations of one setup's ratings the first setup lies above each other one.

    Notes
    -----
    Normal around each setup's place, rounded and kept on the scale. The places lie to both sides of the scale's middle,
    and in each set they are moved together by up to half a point, so that nothing hangs on where a rating is rounded.
    With a lift of more than `WIDEST` points the ratings spread less.

    Examples
    --------
    >>> ratings = drawn(np.random.default_rng(1), 2000, 10, 2, 1.0)
    >>> apart = ratings[..., 0].mean() - ratings[..., 1].mean()
    >>> float(ratings.min()), float(ratings.max()), round(float(apart / ratings[..., 1].std()), 1)
    (0.0, 9.0, 1.0)
    """
    spread = min(SPREAD, WIDEST / lift_sd) if lift_sd > 0 else SPREAD
    lift = min(lift_sd * hypot(spread, ROUNDED), MOST - LEAST)
    places = (LEAST + MOST - lift) / 2 + np.array([lift, *[0.0] * (setups - 1)])
    moved = rng.uniform(-0.5, 0.5, (sets, 1, 1))
    ratings: NDArray[np.float64] = np.rint(places + moved + spread * rng.standard_normal((sets, trials, setups)))
    return np.clip(ratings, LEAST, MOST) + 0.0  # no zero with a minus
