"""Many stimuli graded against a reference (ITU-R BS.1534-3): post-screening, quartiles, medians, permutation test.

Clauses and pages are those of BS.1534-3 (10/2015), read in public notes that cite them page by page.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isnan, sqrt
from statistics import median

import numpy as np

from . import t_test_power
from .errors import StatsError
from .validation import check_level

MOST_MISSES = 0.15  # 4.1.2, p. 5: more than 15 % of the items
LEAST_REFERENCE, MOST_ANCHOR = 90, 90
HARD_ITEM = 0.25  # more than a quarter of the assessors above 90: the item counts against nobody
MOST_ENUMERATED = 12  # pairs; 4096 exchanges


@dataclass(frozen=True)
class Screening:
    """The listeners kept, and why the others were not."""

    kept: tuple[str, ...]
    excluded: Mapping[str, str]


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


def post_screen(
    reference: Mapping[str, Sequence[float | None]], mid_anchor: Mapping[str, Sequence[float | None]]
) -> Screening:
    """Which listeners' grades count (4.1.2, p. 5).

    Parameters
    ----------
    reference, mid_anchor
        Grades of the hidden reference and of the mid anchor, by listener, item by item in one order; None or NaN where
        a listener gave none.

    Raises
    ------
    StatsError
        If the two name other listeners or have other numbers of items.

    Notes
    -----
    A listener is left out who grades the hidden reference below 90 in more than 15 % of the items, or the mid anchor
    above 90 in more than 15 %; items whose mid anchor more than a quarter of the listeners grade above 90 count, for
    the second rule, against nobody. 90 itself is neither below nor above; 15 % itself keeps. Shares are of the items
    graded; for the second rule these include the items that count against nobody.

    Examples
    --------
    >>> post_screen({"Ada": [100, 95, 91, 96, 88, 99]}, {"Ada": [40, 50, 45, 30, 60, 40]}).excluded
    {'Ada': 'graded the hidden reference below 90 in 1 of 6 items'}
    """
    if set(reference) != set(mid_anchor):
        raise StatsError("reference and mid anchor must be graded by the same listeners")
    lengths = {len(row) for row in [*reference.values(), *mid_anchor.values()]}
    if len(lengths) > 1:
        raise StatsError("every listener needs one grade (or None) for every item")
    reference, mid_anchor = _none_where_missing(reference), _none_where_missing(mid_anchor)
    items = range(lengths.pop() if lengths else 0)
    hard = set()
    for item in items:
        graded = [row[item] for row in mid_anchor.values()]
        given = [grade for grade in graded if grade is not None]
        if given and sum(grade > MOST_ANCHOR for grade in given) > HARD_ITEM * len(given):
            hard.add(item)
    excluded, kept = {}, []
    for name, row in reference.items():
        given = [grade for grade in row if grade is not None]
        low = sum(grade < LEAST_REFERENCE for grade in given)
        anchors = [grade for item, grade in enumerate(mid_anchor[name]) if grade is not None]
        high = sum(
            grade > MOST_ANCHOR for item, grade in enumerate(mid_anchor[name]) if grade is not None and item not in hard
        )
        if not given:
            excluded[name] = "graded nothing"
        elif low > MOST_MISSES * len(given) + 1e-9:
            excluded[name] = f"graded the hidden reference below 90 in {low} of {len(given)} items"
        elif high > MOST_MISSES * len(anchors) + 1e-9:
            excluded[name] = f"graded the mid anchor above 90 in {high} of {len(anchors)} items"
        else:
            kept.append(name)
    return Screening(tuple(kept), excluded)


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
    first: Sequence[float], second: Sequence[float], rng: np.random.Generator, draws: int = 10_000
) -> float:
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
    p = (b + 1)/(draws + 1), or exact.

    Examples
    --------
    >>> permutation_test([80, 75, 90, 85, 70, 88], [60, 50, 65, 70, 55, 60], np.random.default_rng(1))
    0.03125

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
        turned = (np.arange(2**pairs)[:, None] >> np.arange(pairs)) & 1 == 1
        return float(np.mean(_apart(one, two, turned) >= seen - 1e-9))
    turned = rng.random((draws, pairs)) < 0.5
    reached = int(np.count_nonzero(_apart(one, two, turned) >= seen - 1e-9))
    return (reached + 1) / (draws + 1)


def power(trials: int, effect: float, alpha: float = 0.05) -> float:
    """The power to tell two stimuli apart whose grades differ by `effect` standard deviations of the differences.

    Of the two-sided paired t-test (non-central t), as an approximation of the permutation test's.

    >>> round(power(20, 0.8), 3)
    0.924
    """
    return t_test_power.power(trials, effect, alpha, two_sided=True)


def sample_size(effect: float, wanted: float = 0.8, alpha: float = 0.05) -> int:
    """Trials (listeners times items) needed for the power wanted.

    Raises
    ------
    StatsError
        If a number is out of range, or over 5,000 would be needed.

    >>> sample_size(0.8)
    15
    """
    return t_test_power.sample_size(effect, wanted, alpha, two_sided=True)


def _numbers(grades: Sequence[float]) -> np.ndarray:
    values = np.asarray(grades, float)
    if not np.isfinite(values).all():
        raise StatsError("every grade must be a number")
    return values


def _none_where_missing(columns: Mapping[str, Sequence[float | None]]) -> dict[str, list[float | None]]:
    """The same with None for every grade that was not given."""
    return {name: [None if grade is None or isnan(grade) else grade for grade in row] for name, row in columns.items()}


def _apart(one: np.ndarray, two: np.ndarray, turned: np.ndarray) -> np.ndarray:
    """The differences of medians after exchanging the trials marked, row by row."""
    left, right = np.where(turned, two, one), np.where(turned, one, two)
    apart: np.ndarray = np.abs(np.median(left, axis=1) - np.median(right, axis=1))
    return apart
