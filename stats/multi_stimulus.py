"""Many stimuli graded against a reference (ITU-R BS.1534-3): quartiles, means, permutation test.

Clauses and pages are those of BS.1534-3 (10/2015), read in public notes that cite them page by page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import median

import numpy as np

from . import sign_flips
from .errors import StatsError
from .validation import check_level

DECIMALS = 3  # of a grade kept elsewhere; those given here are whole numbers


@dataclass(frozen=True)
class Summary:
    """The grades of one stimulus; spread, interval and bimodality are None where there are too few."""

    grades: int
    mean: float
    low: float | None
    high: float | None
    median: float
    q1: float
    q3: float
    outliers: tuple[float, ...]
    bimodality: float | None


def hinges(grades: Sequence[float]) -> tuple[float, float, float]:
    """Lower hinge, median, upper hinge: medians of the halves, the middle value in both (pp. 5-6).

    Raises
    ------
    StatsError
        If there is no grade, or one is not a number.

    >>> hinges([1, 2, 3, 4, 5, 6, 7, 8, 9]), hinges([20, 40, 53, 61, 76, 87, 96, 100])
    ((3.0, 5.0, 7.0), (46.5, 68.5, 91.5))
    """
    if not len(grades):
        raise StatsError("quartiles need at least one grade")
    ordered = sorted(_numbers(grades).tolist())
    half = (len(ordered) + 1) // 2
    return float(median(ordered[:half])), float(median(ordered)), float(median(ordered[-half:]))


def summary(grades: Sequence[float], level: float = 0.95) -> Summary:
    """Median and hinges, mean with its t interval, outliers beyond 1.5 hinge spreads, and the bimodality coefficient.

    Notes
    -----
    Outliers are flagged, not removed (pp. 5-6). b = (g² + 1) / (k + 3(n−1)²/((n−2)(n−3))) with bias-corrected skewness
    g and excess kurtosis k; above 5/9 it suggests two camps (9.1, p. 14), though with few grades it says little.

    Raises
    ------
    StatsError
        If there is no grade, one is not a number, or the level is out of range.

    Examples
    --------
    >>> found = summary([72, 65, 80, 58, 77, 69, 74, 81, 63, 70])
    >>> round(found.mean, 1), round(found.low, 1), round(found.high, 1), found.median
    (70.9, 65.6, 76.2, 71.0)

    So ten listeners find it good, and the mean of all such listeners lies between 65.6 and 76.2.
    """
    check_level(level)
    q1, middle, q3 = hinges(grades)
    values = _numbers(grades)
    n, mean = len(values), float(values.mean())
    reach = 1.5 * (q3 - q1)
    outliers = tuple(float(grade) for grade in values if grade < q1 - reach or grade > q3 + reach)
    low = high = bimodality = None
    spread = float(values.std(ddof=1)) if n > 1 else 0.0
    if n > 1:
        from scipy.stats import t as student

        half = float(student.ppf((1 + level) / 2, n - 1)) * spread / sqrt(n)
        low, high = mean - half, mean + half
    if n > 3 and values.min() < values.max():
        from scipy.stats import kurtosis, skew

        g, k = float(skew(values, bias=False)), float(kurtosis(values, bias=False))
        bimodality = (g * g + 1) / (k + 3 * (n - 1) ** 2 / ((n - 2) * (n - 3)))
    return Summary(n, mean, low, high, middle, q1, q3, outliers, bimodality)


def permutation_test(first: Sequence[float], second: Sequence[float]) -> float:
    """The exact two-sided p that two stimuli, graded side by side, are graded alike on average, by chance alone.

    Parameters
    ----------
    first, second
        Grades of the two in the same trials; with up to three decimals.

    Raises
    ------
    StatsError
        If there are no grades, unequal numbers of them, or one is not a number or has more decimals.

    Notes
    -----
    The statistic is the sum of the paired differences. Each trial's label for each stimulus was drawn at random, so if
    the two cannot be told apart their grades could as well be exchanged, trial by trial: each difference could have the
    other sign (`sign_flips`). The Recommendation's own example takes the difference of medians (Attachment 3, p. 24),
    which few exchanges can change: where all of eight trials give 100 against 60, exchanging any three of them leaves
    both medians, and p is .73. `permuted_medians` has it, for plans that were sealed with it. `quality_grade_power`
    says what the test finds.

    Examples
    --------
    >>> permutation_test([80, 75, 90, 85, 70, 88], [60, 50, 65, 70, 55, 60])
    0.03125

    So all six listeners graded the first higher: two cases in 64.
    """
    one, two = _numbers(first), _numbers(second)
    if len(one) != len(two) or not len(one):
        raise StatsError("the two stimuli need the same number of grades, and at least one")
    return sign_flips.two_sided_p((one - two).tolist(), DECIMALS)


def _numbers(grades: Sequence[float]) -> np.ndarray:
    values = np.asarray(grades, float)
    if not np.isfinite(values).all():
        raise StatsError("every grade must be a number")
    return values
