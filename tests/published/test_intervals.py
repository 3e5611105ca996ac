"""Intervals of a proportion: Newcombe, Stat. Med. 17, 857-872 (1998), Table I, and other printed cases.

Newcombe's title page was read, his table is quoted from memory; all figures were computed independently to four
decimals. The Wald, Agresti-Coull and Jeffreys columns wait for a use of those intervals.
"""

from __future__ import annotations

import pytest

from stats import binomial, intervals

CASES = [
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0, 0.1611), (0, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
    (0, 25, (0, 0.1332), (0, 0.1372)),  # Agresti, Categorical Data Analysis 2e, 1.4.3 (memory: .133 and .137)
    (9, 10, (0.5958, 0.9821), (0.5550, 0.9975)),
    (12, 16, (0.5050, 0.8982), (0.4762, 0.9273)),
    (14, 16, (0.6398, 0.9650), (0.6165, 0.9845)),
]


@pytest.mark.parametrize(("correct", "trials", "wilson", "exact"), CASES)
def test_newcombes_table(correct: int, trials: int, wilson: tuple[float, float], exact: tuple[float, float]) -> None:
    score, clopper = intervals.wilson(correct, trials), intervals.clopper_pearson(correct, trials)
    assert (score.low, score.high) == pytest.approx(wilson, abs=1e-4)
    assert (clopper.low, clopper.high) == pytest.approx(exact, abs=1e-4)


def test_conovers_682_of_925() -> None:
    """Conover 1971, p. 97, as a statistics system's documentation prints it (memory): two-sided at 3/4."""
    assert binomial.binomial_test(682, 925, 0.75, "two-sided").p_value == pytest.approx(0.3824915596, abs=1e-6)
    found = intervals.clopper_pearson(682, 925)
    assert (found.low, found.high) == pytest.approx((0.7076683, 0.7654066), abs=1e-6)


@pytest.mark.parametrize(("correct", "p_value"), [(12, 0.076813), (14, 0.0041809)])
def test_exact_two_sided_p(correct: int, p_value: float) -> None:
    assert binomial.binomial_test(correct, 16, alternative="two-sided").p_value == pytest.approx(p_value, abs=5e-7)


def test_the_edges_have_closed_forms() -> None:
    """0 of n: the low end is 0, the high end 1 - (alpha/2)^(1/n); n of n mirrored (memory)."""
    for trials in (1, 5, 20, 300):
        none, every = intervals.clopper_pearson(0, trials), intervals.clopper_pearson(trials, trials)
        assert (none.low, every.high) == (0, 1)
        assert none.high == pytest.approx(1 - 0.025 ** (1 / trials), abs=1e-12)
        assert every.low == pytest.approx(0.025 ** (1 / trials), abs=1e-12)
