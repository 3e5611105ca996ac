"""Passages against scipy, against every deal of the right answers, and by the error rate in simulated sessions."""

from __future__ import annotations

from itertools import product
from math import comb, prod

import numpy as np
import pytest
from scipy.stats import binomtest, chi2_contingency
from statsmodels.stats.proportion import proportion_confint

from stats.errors import StatsError
from stats.panel import Count
from stats.passage_differences import by_passage
from tests.independent_holm import adjusted

COUNTS = [Count("cymbals", 9, 10), Count("voice", 4, 8), Count("strings", 6, 12), Count("organ", 3, 6)]


def fresh() -> np.random.Generator:
    return np.random.default_rng(21)


@pytest.mark.parametrize("alternative", ["greater", "less", "two-sided"])
def test_each_passage_has_the_exact_test_and_interval(alternative: str) -> None:
    found = by_passage(COUNTS, 1 / 3, alternative, fresh())  # type: ignore[arg-type]
    wanted = [binomtest(one.correct, one.trials, 1 / 3, alternative=alternative).pvalue for one in COUNTS]
    assert [one.p_value for one in found.passages] == pytest.approx(wanted, rel=1e-9)
    assert [one.p_adjusted for one in found.passages] == pytest.approx(adjusted(wanted))
    for one in found.passages:
        ends = proportion_confint(one.correct, one.trials, method="beta")
        assert (one.low, one.high) == pytest.approx(ends)
        assert one.share == one.correct / one.trials


def test_the_statistic_is_the_chi_square_of_the_table() -> None:
    found = by_passage(COUNTS, 0.5, "greater", fresh())
    table = [[one.correct for one in COUNTS], [one.trials - one.correct for one in COUNTS]]
    assert found.x2 == pytest.approx(chi2_contingency(table, correction=False).statistic)


@pytest.mark.parametrize("right", [(9, 4, 6, 3), (5, 5, 8, 4), (10, 1, 10, 1)])
def test_the_permutation_p_is_the_share_of_all_deals(right: tuple[int, ...]) -> None:
    """Every deal of the right answers, weighted by its number of ways; within five Monte-Carlo errors."""
    trials = tuple(one.trials for one in COUNTS)
    total, pooled = sum(right), sum(right) / sum(trials)

    def x2(deal: tuple[int, ...]) -> float:
        return sum((x - n * pooled) ** 2 / (n * pooled * (1 - pooled)) for x, n in zip(deal, trials, strict=True))

    deals = [deal for deal in product(*(range(n + 1) for n in trials)) if sum(deal) == total]
    ways = np.array([prod(comb(n, x) for x, n in zip(deal, trials, strict=True)) for deal in deals])
    reach = np.array([x2(deal) >= x2(right) - 1e-9 for deal in deals])
    wanted = ways[reach].sum() / comb(sum(trials), total)
    counts = [Count(one.name, x, one.trials) for one, x in zip(COUNTS, right, strict=True)]
    found = by_passage(counts, 0.5, "greater", fresh(), draws=40_000)
    assert found.p_value == pytest.approx(wanted, abs=5 * (wanted * (1 - wanted) / 40_000) ** 0.5 + 1 / 40_000)


def test_the_same_generator_gives_the_same_p() -> None:
    assert by_passage(COUNTS, 0.5, "greater", fresh()) == by_passage(COUNTS, 0.5, "greater", fresh())


def test_alike_passages_are_called_different_in_at_most_five_per_cent() -> None:
    """800 sessions of six passages with four trials each, all at .7; 199 draws make the p-value exact at .05."""
    rng, found = np.random.default_rng(22), []
    for row in rng.binomial(4, 0.7, (800, 6)).tolist():
        counts = [Count(str(place), x, 4) for place, x in enumerate(row)]
        p_value = by_passage(counts, 0.5, "greater", rng, draws=199).p_value
        found.append(p_value is not None and p_value <= 0.05)
    assert np.mean(found) <= 0.05 + 4 * (0.05 * 0.95 / 800) ** 0.5
    assert np.mean(found) > 0.01


def test_a_passage_that_carries_all_is_found() -> None:
    counts = [Count("cymbals", 20, 20), Count("voice", 10, 20), Count("strings", 9, 20)]
    found = by_passage(counts, 0.5, "greater", fresh())
    assert found.p_value is not None
    assert found.p_value < 0.001
    assert [one.p_adjusted <= 0.05 for one in found.passages] == [True, False, False]


@pytest.mark.parametrize("right", [(4, 4), (0, 0), (3,)])
def test_nothing_to_compare_is_none(right: tuple[int, ...]) -> None:
    counts = [Count(str(place), x, 4) for place, x in enumerate(right)]
    found = by_passage(counts, 0.5, "greater", fresh())
    assert (found.x2, found.p_value) == (None, None)
    document = found.to_document()
    assert document["passages"][0]["trials"] == 4


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: by_passage([], 0.5, "greater", fresh()), "at least one count"),
        (
            lambda: by_passage(COUNTS + COUNTS[:1], 0.5, "greater", fresh()),
            "more than once: cymbals",
        ),
        (lambda: by_passage(COUNTS, 0.5, "more", fresh()), "alternative is one of"),  # type: ignore[arg-type]
        (lambda: by_passage(COUNTS, 1.5, "greater", fresh()), "chance must lie"),
        (lambda: by_passage(COUNTS, 0.5, "greater", fresh(), draws=0), "1 or more; got 0"),
    ],
)
def test_what_is_out_of_range_is_refused(call: object, says: str) -> None:
    assert callable(call)
    with pytest.raises(StatsError, match=says):
        call()


def test_two_passages_are_compared() -> None:
    """All twelve right answers in one of two: one deal in C(24, 12), and its mirror."""
    found = by_passage([Count("drums", 12, 12), Count("choir", 0, 12)], 0.5, "greater", fresh(), draws=999)
    assert found.x2 == pytest.approx(chi2_contingency([[12, 0], [0, 12]], correction=False).statistic)
    assert found.p_value == 1 / 1000  # no draw reached it
