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
    """Difference grades of one listener (or of all): mean, spread, one-sided t-test that the mean is below 0.

    `sd`, `t` and the interval's ends are None where they cannot be had: fewer than two grades, or all the same.
    """

    trials: int
    mean: float
    sd: float | None
    t: float | None
    freedom: int
    p_value: float
    low: float | None
    high: float | None


def expertise(differences: Sequence[float], level: float = 0.95) -> Expertise:
    """Whether a listener graded the object below the hidden reference (ITU-R BS.1116's screening, from memory).

    Parameters
    ----------
    differences
        Grade of the object less grade of the hidden reference, one a trial; below 0 where the reference was found.

    Raises
    ------
    StatsError
        If a difference is not a number, or the level is out of range.

    Notes
    -----
    Student's t, one-sided, and the two-sided interval of the mean. With fewer than two grades p is 1; with all the same
    there is no spread to test by: p is ½ to the power of their number where they are below 0 (the sign test), else 1.

    Examples
    --------
    >>> found = expertise([-0.5, -1.0, 0.2, -0.8, -0.3, -1.2, 0.0, -0.6])
    >>> round(found.mean, 3), round(found.t, 3), round(found.p_value, 5)
    (-0.525, -3.091, 0.00877)

    So this listener found the reference more often than not, and graded accordingly.
    """
    check_level(level)
    values = _numbers(differences)
    trials = len(values)
    mean = float(values.mean()) if trials else 0.0
    if trials < 2:
        return Expertise(trials, mean, None, None, max(trials - 1, 0), 1.0, None, None)
    sd = float(values.std(ddof=1))
    if sd < 1e-12:
        return Expertise(trials, mean, 0.0, None, trials - 1, 0.5**trials if mean < 0 else 1.0, None, None)
    from scipy.special import stdtr, stdtrit

    error = sd / sqrt(trials)
    half = float(stdtrit(trials - 1, (1 + level) / 2)) * error
    t = mean / error
    return Expertise(trials, mean, sd, t, trials - 1, float(stdtr(trials - 1, t)), mean - half, mean + half)


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
