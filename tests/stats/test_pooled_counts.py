"""Pooled counts from sums are equal to the exact test and to chi-square of the answers, however many there are."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest
from scipy import stats

from stats.binomial import binomial_test
from stats.errors import StatsError
from stats.intervals import clopper_pearson
from stats.pooled_counts import pooled_counts

COUNTS = [(18, 20), (10, 20), (7, 9), (3, 12), (16, 16), (0, 5)]


def sums(counts: list[tuple[int, int]]) -> tuple[int, int, int, float]:
    squares = sum(Fraction(right * right, trials) for right, trials in counts)
    return sum(one for one, _ in counts), sum(one for _, one in counts), len(counts), float(squares)


@pytest.mark.parametrize("chance", [0.5, 1 / 3])
def test_p_and_interval_are_those_of_the_exact_test(chance: float) -> None:
    found = pooled_counts(*sums(COUNTS), chance)
    exact = Fraction(1, 3) if chance < 0.5 else 0.5
    assert found.p_value == pytest.approx(binomial_test(54, 82, exact).p_value, rel=1e-9)
    wanted = clopper_pearson(54, 82)
    assert (found.interval.low, found.interval.high) == pytest.approx((wanted.low, wanted.high), rel=1e-9)


def test_dispersion_is_pearsons_chi_square_of_the_table_of_listeners() -> None:
    found = pooled_counts(*sums(COUNTS), 0.5)
    table = [[right for right, _ in COUNTS], [trials - right for right, trials in COUNTS]]
    wanted = stats.chi2_contingency(table, correction=False)
    assert found.dispersion == pytest.approx(wanted.statistic / wanted.dof)
    assert found.dispersion_p == pytest.approx(wanted.pvalue)


def test_a_preference_counts_on_either_side() -> None:
    for right in (0, 5, 10, 14, 20):
        found = pooled_counts(right, 20, 1, 0.0, 0.5, "two-sided")
        assert found.p_value == pytest.approx(stats.binomtest(right, 20).pvalue)


def test_ten_million_answers_are_tested_as_the_normal_limit_has_it() -> None:
    trials = 10_000_000
    right = trials // 2 + round(2.5 * math.sqrt(trials) / 2)
    found = pooled_counts(right, trials, 1, right * right / trials, 0.5)
    assert found.p_value == pytest.approx(stats.norm.sf(2.5), rel=1e-3)
    half_width = stats.norm.ppf(0.975) * math.sqrt(0.25 / trials)
    assert found.interval.high - found.interval.low == pytest.approx(2 * half_width, rel=1e-3)
    assert pooled_counts(trials, trials, 1, trials, 0.5).interval.high == 1.0


@pytest.mark.parametrize("counts", [[(5, 5), (9, 9)], [(0, 5), (0, 9)], [(4, 9)]])
def test_there_is_no_dispersion_of_one_listener_or_of_answers_that_are_all_alike(counts: list[tuple[int, int]]) -> None:
    found = pooled_counts(*sums(counts), 0.5)
    assert (found.dispersion, found.dispersion_p) == (None, None)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ((5, 4, 1, 6.25, 0.5), "cannot be"),
        ((-1, 4, 1, 0.0, 0.5), "cannot be"),
        ((2, 4, 5, 1.0, 0.5), "cannot be"),
        ((0, 0, 0, 0.0, 0.5), "cannot be"),
        ((2, 4, 1, 1.0, 1.5), "chance"),
        ((2, 4, 1, 1.0, 1 / 3, "two-sided"), "for a chance of 1/2"),
    ],
)
def test_what_cannot_be_is_refused(given: tuple[Any, ...], says: str) -> None:
    with pytest.raises(StatsError, match=says):
        pooled_counts(*given)
