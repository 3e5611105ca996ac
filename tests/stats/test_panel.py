"""Panels: the closed testing behind the bounds by brute force, and their error rates by enumeration and simulation."""

from __future__ import annotations

from fractions import Fraction
from itertools import chain, combinations, product
from math import prod

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, binomtest

from stats import panel
from stats.errors import StatsError
from stats.panel import Count
from tests.independent_holm import adjusted

p_lists = st.lists(st.floats(0, 1), min_size=1, max_size=6)


def counts(right: list[int], trials: int) -> list[Count]:
    return [Count(f"listener {place}", x, trials) for place, x in enumerate(right)]


@given(p_lists, st.sampled_from([0.05, 0.2]))
def test_the_lower_bound_is_that_of_closed_testing(p_values: list[float], alpha: float) -> None:
    """Every set of listeners tested by Bonferroni; the bound is what the largest set not rejected leaves."""
    places = range(len(p_values))
    sets = chain.from_iterable(combinations(places, size) for size in range(len(p_values) + 1))
    kept = [len(some) for some in sets if not some or len(some) * min(p_values[k] for k in some) > alpha]
    assert panel.least_hearers(p_values, alpha) == len(p_values) - max(kept)


@given(p_lists)
def test_the_lower_bound_is_the_last_partial_conjunction_rejected(p_values: list[float]) -> None:
    ranked, n, found = sorted(p_values), len(p_values), 0
    while found < n and (n - found) * ranked[found] <= 0.05:
        found += 1
    assert panel.least_hearers(p_values) == found


def errors(shares: list[float], trials: int, alpha: float, share: float) -> tuple[float, float]:
    """The exact probabilities of a lower bound above, and an upper bound below, what is true; over all outcomes."""
    right = [0.5 + 0.5 * one for one in shares]
    hear, hear_enough = sum(one > 0 for one in shares), sum(one >= share for one in shares)
    p_value = [binom.sf(x - 1, trials, 0.5) for x in range(trials + 1)]
    above = below = 0.0
    for outcome in product(range(trials + 1), repeat=len(shares)):
        weight = prod(binom.pmf(x, trials, p) for x, p in zip(outcome, right, strict=True))
        above += weight * (panel.least_hearers([p_value[x] for x in outcome], alpha) > hear)
        below += weight * (panel.most_hearers(counts(list(outcome), trials), 0.5, share, alpha) < hear_enough)
    return above, below


@pytest.mark.parametrize(
    "shares", [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.5, 0.5, 0.5], [0.0, 0.5, 0.9], [0.5, 0.0, 0.0]]
)
def test_both_bounds_keep_their_error_rate_over_all_outcomes(shares: list[float]) -> None:
    above, below = errors(shares, 7, 0.2, 0.5)
    assert above <= 0.2 + 1e-12
    assert below <= 0.2 + 1e-12


def test_the_error_rate_is_not_empty() -> None:
    """The bounds above would hold for bounds that never say anything: these err sometimes, as they may."""
    above, _ = errors([1.0, 0.0, 0.0], 7, 0.2, 0.5)
    _, below = errors([0.5], 7, 0.2, 0.5)
    assert above > 0.05
    assert below > 0.05


def test_both_bounds_keep_their_error_rate_in_simulated_panels() -> None:
    """10 listeners of 20 trials, 4 at share .5, the rest guessing; 3000 panels, five per cent plus four errors."""
    rng, panels, listeners, trials = np.random.default_rng(11), 3000, 10, 20
    right = np.where(np.arange(listeners) < 4, 0.75, 0.5)
    seen = rng.binomial(trials, right, (panels, listeners))
    p_value = binom.sf(np.arange(trials + 1) - 1, trials, 0.5)
    lower = np.array([panel.least_hearers(p_value[row].tolist()) for row in seen])
    upper = np.array([panel.most_hearers(counts(row.tolist(), trials)) for row in seen])
    within = 0.05 + 4 * (0.05 * 0.95 / panels) ** 0.5
    assert np.mean(lower > 4) <= within
    assert np.mean(upper < 4) <= within
    assert np.mean(lower <= upper) >= 1 - 2 * within
    assert np.mean(lower >= 1) > 0.5  # and they find something
    assert np.mean(upper < 10) > 0.5


def test_the_lower_bound_holds_when_all_guessers_give_the_same_answers() -> None:
    """Full dependence: nine guessers copy one another, one truly hears."""
    rng, panels, trials = np.random.default_rng(12), 20_000, 16
    p_value = binom.sf(np.arange(trials + 1) - 1, trials, 0.5)
    copied, heard = rng.binomial(trials, 0.5, panels), rng.binomial(trials, 0.9, panels)
    found = [
        panel.least_hearers([p_value[h]] + [p_value[c]] * 9)
        for h, c in zip(heard.tolist(), copied.tolist(), strict=True)
    ]
    assert np.mean(np.array(found) > 1) <= 0.05 + 4 * (0.05 * 0.95 / panels) ** 0.5


@settings(max_examples=20)
@given(st.lists(st.integers(0, 12), min_size=1, max_size=8), st.sampled_from(["greater", "less", "two-sided"]))
def test_each_listener_and_the_pool_have_the_exact_p(right: list[int], alternative: str) -> None:
    found = panel.panel(counts(right, 12), 0.5, 0.1, alternative)  # type: ignore[arg-type]
    wanted = [binomtest(x, 12, alternative=alternative).pvalue for x in right]
    assert [one.p_value for one in found.listeners] == pytest.approx(wanted)
    by_holm = adjusted(wanted)
    assert [one.p_adjusted for one in found.listeners] == pytest.approx(by_holm)
    assert found.p_value == pytest.approx(binomtest(sum(right), 12 * len(right), alternative=alternative).pvalue)
    assert found.hearers == sum(one.shown for one in found.listeners)


def test_the_upper_bound_is_the_mirror_with_the_probability_of_hearing_the_share() -> None:
    """At chance 1/3 and share one half a listener is right in two thirds: P(X <= 5 | 12, 2/3) = .0664."""
    assert binom.cdf(5, 12, 2 / 3) == pytest.approx(0.0664, abs=5e-5)
    panel_of_two = [Count("one", 5, 12), Count("other", 5, 12)]
    assert panel.most_hearers(panel_of_two[:1], Fraction(1, 3), 0.5, 0.067) == 0
    assert panel.most_hearers(panel_of_two[:1], Fraction(1, 3), 0.5, 0.066) == 1
    assert panel.most_hearers(panel_of_two, Fraction(1, 3), 0.5, 0.067) == 2
    assert panel.most_hearers(panel_of_two, Fraction(1, 3), 0.5, 0.133) == 0


def test_different_numbers_of_trials_are_pooled_as_trials() -> None:
    found = panel.panel([Count("one", 9, 10), Count("other", 11, 20)])
    assert (found.correct, found.trials) == (20, 30)
    assert found.p_value == pytest.approx(binom.sf(19, 30, 0.5))
    document = found.to_document()
    assert document["listeners"][1]["name"] == "other"
    assert document["hearers"] == 1


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: panel.panel([]), "at least one count"),
        (lambda: panel.panel([Count("one", 3, 4), Count("one", 2, 4)]), "more than once: one"),
        (lambda: panel.panel([Count("one", 5, 4)]), "from 0 to the 4 trials; got 5"),
        (lambda: panel.panel([Count("one", 3, 4)], 0.5, 0), "alpha must lie"),
        (lambda: panel.panel([Count("one", 3, 4)], 1.0), "chance must lie"),
        (lambda: panel.least_hearers([0.5, 1.5]), "from 0 to 1; got 1.5"),
        (lambda: panel.least_hearers([0.5], 2), "alpha must lie"),
        (lambda: panel.most_hearers([Count("one", 3, 4)], 0.5, 1.0), "the share truly heard must lie"),
        (lambda: panel.most_hearers([], 0.5), "at least one count"),
    ],
)
def test_what_is_out_of_range_is_refused(call: object, says: str) -> None:
    assert callable(call)
    with pytest.raises(StatsError, match=says):
        call()
