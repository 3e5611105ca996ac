"""Many stimuli graded against a reference (ITU-R BS.1534-3): quartiles, medians, permutation test.

Clauses and pages are those of BS.1534-3 (10/2015), read in public notes that cite them page by page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import median

import numpy as np

from .errors import StatsError
from .estimates import PValue
from .quality_grade_power import medians_apart
from .validation import check_level

MOST_ENUMERATED = 12  # pairs; 4096 exchanges
DRAWS = 10_000
MOST_AT_ONCE = 4_000_000  # grades exchanged at once, for memory's sake


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


def permutation_test(
    first: Sequence[float], second: Sequence[float], rng: np.random.Generator, draws: int = DRAWS
) -> PValue:
    """The two-sided p that two stimuli, graded side by side, have the same median by chance alone.

    Parameters
    ----------
    first, second
        Grades of the two in the same trials.
    rng
        For the exchanges; up to 12 trials all of them are gone through instead.

    Raises
    ------
    StatsError
        If there are no grades, unequal numbers of them, or one is not a number; or if there are no draws.

    Notes
    -----
    The statistic is the difference of medians (Attachment 3, p. 24). Each trial's label for each stimulus was drawn at
    random, so if the two cannot be told apart their grades could as well be exchanged, trial by trial.
    p = (b + 1)/(draws + 1), or exact. `quality_grade_power` says what the test finds.

    Examples
    --------
    >>> permutation_test([80, 75, 90, 85, 70, 88], [60, 50, 65, 70, 55, 60], np.random.default_rng(1))
    PValue(value=0.03125, draws=None)

    So all six listeners graded the first higher: two cases in 64.
    """
    one, two = _numbers(first), _numbers(second)
    if draws < 1:
        raise StatsError(f"the test needs at least one draw; got {draws!r}")
    if len(one) != len(two) or not len(one):
        raise StatsError("the two stimuli need the same number of grades, and at least one")
    seen = abs(float(np.median(one) - np.median(two)))
    pairs = len(one)
    if pairs <= MOST_ENUMERATED:
        turned = (np.arange(2**pairs) >> np.arange(pairs)[:, None]) & 1 == 1
        return PValue(float(np.mean(medians_apart(one, two, turned) >= seen - 1e-9)))
    reached, left = 0, draws
    while left:
        now = min(left, max(1, MOST_AT_ONCE // pairs))
        turned = rng.random((now, pairs)).T < 0.5
        reached += int(np.count_nonzero(medians_apart(one, two, turned) >= seen - 1e-9))
        left -= now
    return PValue((reached + 1) / (draws + 1), draws)


def _numbers(grades: Sequence[float]) -> np.ndarray:
    values = np.asarray(grades, float)
    if not np.isfinite(values).all():
        raise StatsError("every grade must be a number")
    return values
