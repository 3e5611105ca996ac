"""Leaning to a side against scipy's binomial test and a count over every sequence of choices."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest, chisquare

from stats import response_bias
from stats.errors import StatsError


@given(st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.sampled_from([0.5, 0.25]))
def test_side_bias_is_scipys_two_sided_test(count: tuple[int, int], share: float) -> None:
    first, trials = count
    found = response_bias.side_bias(first, trials, share)
    assert found.p_value == pytest.approx(binomtest(first, trials, share).pvalue, rel=1e-7)
    assert found.to_document() == {"first": first, "trials": trials, "share": share, "p_value": found.p_value}


@settings(max_examples=30)
@given(st.lists(st.integers(0, 3), min_size=2, max_size=3).filter(any))
def test_the_choice_of_a_place_is_counted_over_every_sequence(counts: list[int]) -> None:
    found = response_bias.side_choice(counts, np.random.default_rng(1))
    assert found.x2 == pytest.approx(chisquare(counts).statistic, abs=1e-9)
    seen = sum(count**2 for count in counts)
    others = [
        sum(sequence.count(place) ** 2 for place in range(len(counts)))
        for sequence in product(range(len(counts)), repeat=sum(counts))
    ]
    assert found.exact
    assert found.p_value == pytest.approx(np.mean(np.array(others) >= seen))


def test_many_places_are_drawn_as_they_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    exact = response_bias.side_choice([14, 6, 7, 5], np.random.default_rng(2))
    monkeypatch.setattr(response_bias, "MOST_SPLITS", 0)
    drawn = response_bias.side_choice([14, 6, 7, 5], np.random.default_rng(2), draws=20_000)
    assert (exact.exact, drawn.exact) == (True, False)
    assert drawn.p_value == pytest.approx(exact.p_value, abs=4 * (exact.p_value / 20_000) ** 0.5)
    assert drawn == response_bias.side_choice([14, 6, 7, 5], np.random.default_rng(2), draws=20_000)
    assert drawn.to_document()["counts"] == (14, 6, 7, 5)


@pytest.mark.parametrize(
    ("counts", "says"),
    [([3], "two places or more"), ([0, 0], "0 answers"), ([3, -1], "got -1"), ([3, 1.5], "got 1.5"), ([], "0 places")],
)
def test_other_counts_are_refused(counts: list[int], says: str) -> None:
    with pytest.raises(StatsError, match=says):
        response_bias.side_choice(counts, np.random.default_rng(1))
