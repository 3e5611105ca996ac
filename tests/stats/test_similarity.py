"""Similarity against a plain search with scipy's binomial, and its risk at the limit."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from stats import largest_difference, similarity
from stats.errors import StatsError


@settings(max_examples=40)
@given(st.integers(1, 300), st.sampled_from([0.1, 0.25, 0.5, 0.8]), st.sampled_from([0.05, 0.1, 0.2]), st.booleans())
def test_the_limit_is_that_of_a_plain_search(trials: int, share: float, beta: float, triangle: bool) -> None:
    chance = Fraction(1, 3) if triangle else Fraction(1, 2)
    right = float(chance) + share * (1 - float(chance))
    fitting = [x for x in range(trials + 1) if binom.cdf(x, trials, right) <= beta and x >= trials * chance]
    found = similarity.critical(trials, share, beta, chance)
    assert found == (max(fitting) if fitting else None)
    for correct in range(0, trials + 1, max(1, trials // 20)):
        said = similarity.ruled_out(correct, trials, share, beta, chance)
        assert said == (bool(fitting) and binom.cdf(correct, trials, right) <= beta)


@given(st.integers(1, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.floats(0.01, 0.99))
def test_the_risk_is_the_lower_tail_and_agrees_with_the_upper_bound(count: tuple[int, int], share: float) -> None:
    correct, trials = count
    risk = similarity.p_value(correct, trials, share)
    assert risk == pytest.approx(binom.cdf(correct, trials, 0.5 + share / 2), rel=1e-6, abs=1e-12)
    if abs(risk - 0.05) > 1e-9:
        assert (risk <= 0.05) == (largest_difference.largest_difference(correct, trials) <= share)


@given(st.floats(0.01, 0.99))
def test_more_share_is_easier_to_rule_out(share: float) -> None:
    some, more = similarity.critical(100, share), similarity.critical(100, (1 + share) / 2)
    assert some is None or (more is not None and some <= more)


def test_decimals_are_exact() -> None:
    assert similarity.proportion_right(0.1, 0.5) == Fraction(11, 20)
    assert similarity.proportion_right(Fraction(1, 3), Fraction(1, 3)) == Fraction(5, 9)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: similarity.critical(0, 0.3), "trials must be a whole number"),
        (lambda: similarity.critical(30, 0.0), r"the share truly heard must lie between 0 and 1; got 0\.0"),
        (lambda: similarity.critical(30, 0.3, 1.0), "beta must lie between 0 and 1"),
        (lambda: similarity.critical(30, 0.3, 0.05, 1), "chance must lie between 0 and 1"),
        (lambda: similarity.ruled_out(31, 30, 0.3), "from 0 to the 30 trials"),
        (lambda: similarity.p_value(3, 30, True), "the share truly heard"),
    ],
)
def test_what_is_out_of_range_is_refused(call: object, says: str) -> None:
    assert callable(call)
    with pytest.raises(StatsError, match=says):
        call()
