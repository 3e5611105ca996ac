"""The rank-sum test against every choice of marks, scipy's exact test, and scipy's normal approximation."""

from __future__ import annotations

from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import mannwhitneyu, rankdata

from stats import rank_sum
from stats.errors import StatsError

marked_values = st.lists(st.tuples(st.integers(0, 5), st.integers(0, 1)), min_size=2, max_size=11)


@settings(max_examples=60)
@given(marked_values)
def test_with_ties_it_is_the_count_over_every_choice_of_marks(pairs: list[tuple[int, int]]) -> None:
    values, marks = zip(*pairs, strict=True)
    found = rank_sum.rank_sum(values, marks)
    ones = sum(marks)
    if ones in (0, len(marks)):
        assert found is None
        return
    ranks = 2 * rankdata(values)
    seen = ranks[np.array(marks) == 1].sum()
    sums = np.array([ranks[list(chosen)].sum() for chosen in combinations(range(len(values)), ones)])
    assert found is not None
    assert found.exact
    assert found.p_larger == pytest.approx(np.mean(sums >= seen))
    mean = ranks.mean() * ones
    assert found.p_value == pytest.approx(np.mean(np.abs(sums - mean) >= abs(seen - mean) - 1e-9))


@given(marked_values)
def test_gamma_counts_the_pairs(pairs: list[tuple[int, int]]) -> None:
    values, marks = zip(*pairs, strict=True)
    found = rank_sum.rank_sum(values, marks)
    if found is None:
        return
    chosen = [value for value, mark in pairs if mark]
    others = [value for value, mark in pairs if not mark]
    signs = [np.sign(one - other) for one, other in product(chosen, others)]
    apart = sum(sign != 0 for sign in signs)
    assert found.gamma == (pytest.approx(sum(signs) / apart) if apart else None)


@settings(max_examples=40)
@given(st.integers(2, 120), st.integers(0, 2**32 - 1))
def test_without_ties_it_is_scipys_exact_test(n: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    values, marks = rng.permutation(n), (rng.random(n) < 0.6).astype(int)
    marks[:2] = 0, 1
    found = rank_sum.rank_sum(values.tolist(), marks.tolist())
    assert found is not None
    assert found.exact
    for side, ours in (("greater", found.p_larger), ("two-sided", found.p_value)):
        wanted = mannwhitneyu(values[marks == 1], values[marks == 0], alternative=side, method="exact")
        assert ours == pytest.approx(wanted.pvalue, rel=1e-9)


def test_many_values_are_approximated_as_scipy_does_and_say_so() -> None:
    rng = np.random.default_rng(3)
    values, marks = rng.integers(0, 40, 600), (rng.random(600) < 0.5).astype(int)
    values = values + marks
    found = rank_sum.rank_sum(values.tolist(), marks.tolist())
    assert found is not None
    assert not found.exact
    wanted = mannwhitneyu(values[marks == 1], values[marks == 0], method="asymptotic")
    assert found.p_value == pytest.approx(wanted.pvalue, rel=1e-6)
    one = mannwhitneyu(values[marks == 1], values[marks == 0], alternative="greater", method="asymptotic")
    assert found.p_larger == pytest.approx(one.pvalue, rel=1e-6)


def test_exact_and_approximate_agree_where_both_can_be_had(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(4)
    values, marks = rng.random(150).tolist(), ([0, 1] * 75)
    exact = rank_sum.rank_sum(values, marks)
    monkeypatch.setattr(rank_sum, "MOST_WORK", 0)
    near = rank_sum.rank_sum(values, marks)
    assert exact is not None
    assert near is not None
    assert (exact.exact, near.exact) == (True, False)
    assert near.p_value == pytest.approx(exact.p_value, abs=0.003)


def test_all_values_equal_say_nothing() -> None:
    found = rank_sum.rank_sum([2, 2, 2], [0, 1, 1])
    assert found is not None
    assert (found.p_larger, found.p_value, found.gamma) == (1, 1, None)


@pytest.mark.parametrize(
    ("values", "marks", "says"),
    [
        ([1, 2], [1], "got 2 values and 1 marks"),
        ([1, float("nan")], [1, 0], "finite numbers; got nan"),
        ([1, "2"], [1, 0], "finite numbers; got '2'"),
        ([1, 2], [1, 2], "right is 1 and wrong is 0; got 2"),
    ],
)
def test_what_is_out_of_range_is_refused(values: list[float], marks: list[int], says: str) -> None:
    with pytest.raises(StatsError, match=says):
        rank_sum.rank_sum(values, marks)


def test_both_tails_of_the_approximation_are_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stats.rank_sum.MOST_EXACT", 0)
    values, marks = [*range(20)], [0] * 12 + [1] * 8
    larger, smaller = rank_sum.rank_sum(values, marks), rank_sum.rank_sum(values, [1 - mark for mark in marks])
    assert larger is not None
    assert smaller is not None
    assert larger.p_value == pytest.approx(smaller.p_value)
    assert larger.p_larger < 0.001 < 0.999 < smaller.p_larger


def test_many_equal_values_say_nothing_by_approximation_either(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stats.rank_sum.MOST_EXACT", 0)
    found = rank_sum.rank_sum([5.0] * 20, [0, 1] * 10)
    assert found is not None
    assert (found.p_larger, found.p_value, found.exact) == (1.0, 1.0, False)
