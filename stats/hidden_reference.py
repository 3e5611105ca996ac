"""Hidden-reference grading (ITU-R BS.1116): difference grades, reliable listeners, and the exact test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from . import sign_flips
from .errors import StatsError
from .validation import check_level


@dataclass(frozen=True)
class Expertise:
    """Difference grades of one listener (or of all): mean, spread, and the exact p that the reference was not found.

    `sd` and the ends of the mean's interval are None where they cannot be had: fewer than two grades, or all the same.
    `p_value` is None where so few grades are told without a test.
    """

    trials: int
    mean: float
    sd: float | None
    low: float | None
    high: float | None
    p_value: float | None


def expertise(differences: Sequence[float], level: float = 0.95) -> Expertise:
    """Whether a listener graded the object below the hidden reference.

    Parameters
    ----------
    differences
        Grade of the object less grade of the hidden reference, one a trial; below 0 where the reference was found. Of
        one decimal, as the scale has.

    Raises
    ------
    StatsError
        If a difference is not a number or has more decimals, or the level is out of range.

    Notes
    -----
    ITU-R BS.1116 screens listeners by Student's t-test (from memory). Who guesses gives the top grade to one of the two
    and takes off about as much each time, so that differences lie at two places and far from a normal distribution: of
    two trials that test then finds up to a quarter of guessers. So p is that of `randomisation_test`, which keeps to
    its level whatever the habit. The interval of the mean is Student's, and describes.

    Examples
    --------
    >>> found = expertise([-0.5, -1.0, 0.2, -0.8, -0.3, -1.2, 0.0, -0.6])
    >>> round(found.mean, 3), round(found.p_value, 5)
    (-0.525, 0.01562)

    So this listener found the reference more often than not, and graded accordingly.
    """
    check_level(level)
    values = _numbers(differences)
    trials = len(values)
    mean = float(values.mean()) if trials else 0.0
    p_value = randomisation_test(differences)
    if trials < 2:
        return Expertise(trials, mean, None, None, None, p_value)
    sd = float(values.std(ddof=1))
    if sd < 1e-12:
        return Expertise(trials, mean, 0.0, None, None, p_value)
    from scipy.special import stdtrit

    half = float(stdtrit(trials - 1, (1 + level) / 2)) * sd / sqrt(trials)
    return Expertise(trials, mean, sd, mean - half, mean + half, p_value)


def randomisation_test(differences: Sequence[float], decimals: int = 1) -> float:
    """The exact one-sided p that the object was graded below the reference by chance alone.

    Parameters
    ----------
    differences
        As for `expertise`; 0 for a trial that was not graded.
    decimals
        How many decimals a grade has.

    Raises
    ------
    StatsError
        If a difference is not a number or has more decimals, or all together are too large to be gone through.

    Notes
    -----
    Whoever cannot tell the two apart grades them somehow: which of the grades belongs to the object was decided by a
    fair coin, so each difference was equally likely to have the other sign (`sign_flips`). `difference_grade_power` has
    its power.

    Examples
    --------
    >>> randomisation_test([-1.0, -0.5, -0.4, -0.2, -0.1])
    0.03125

    So five differences all below 0 are one case in 32.
    """
    return sign_flips.one_sided_p(differences, decimals)


def _numbers(differences: Sequence[float]) -> np.ndarray:
    values = np.asarray(list(differences), float)
    if not np.isfinite(values).all():
        raise StatsError("every difference grade must be a number")
    return values
