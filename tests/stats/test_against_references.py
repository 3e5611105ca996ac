"""The statistics against scipy, statsmodels, brute force, and laws that hold for every input."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction
from functools import cache
from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, binomtest, norm
from statsmodels.stats.proportion import proportion_confint

from stats import binomial, binomial_power, count_summary, d_prime, holm, intervals, largest_difference, preference
from stats.counted_methods import COUNTED_METHODS
from stats.errors import StatsError
from tests.independent_holm import adjusted

counts = st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
chances = st.sampled_from([0.5, 1 / 3, 0.25, 0.9])
alphas = st.sampled_from([0.2, 0.1, 0.05, 0.01, 0.001])


@settings(max_examples=200, deadline=None)
@given(counts, chances, st.sampled_from(["greater", "less", "two-sided"]))
def test_p_values_are_scipys(count: tuple[int, int], chance: float, alternative: binomial.Alternative) -> None:
    correct, trials = count
    ours = binomial.binomial_test(correct, trials, chance, alternative).p_value
    assert ours == pytest.approx(
        binomtest(correct, trials, chance, alternative=alternative).pvalue, rel=1e-7, abs=1e-14
    )


@given(counts)
def test_p_values_are_the_sum_over_all_outcomes(count: tuple[int, int]) -> None:
    correct, trials = count
    every = sum(comb(trials, k) for k in range(correct, trials + 1))
    assert binomial.binomial_test(correct, trials).p_value == float(Fraction(every, 2**trials))


@settings(deadline=None)
@given(st.integers(1, 300), alphas, st.sampled_from([Fraction(1, 2), Fraction(1, 3)]))
def test_the_criterion_is_the_least_count_that_shows_it(trials: int, alpha: float, chance: Fraction) -> None:
    found = binomial.critical(trials, alpha, chance)
    p_value = [binomial.binomial_test(k, trials, chance).p_value for k in range(trials + 1)]
    assert found == next((k for k in range(trials + 1) if p_value[k] <= alpha), None)


@settings(deadline=None)
@given(st.integers(1, 200), alphas)
def test_the_two_sided_and_lower_criteria_mirror(trials: int, alpha: float) -> None:
    both = binomial.critical(trials, alpha, alternative="two-sided")
    p_value = [binomial.binomial_test(k, trials, alternative="two-sided").p_value for k in range(trials + 1)]
    upper = range(trials // 2 + trials % 2, trials + 1)
    assert both == next((k for k in upper if p_value[k] <= alpha), None)
    assert p_value == pytest.approx(p_value[::-1])
    lower, high = binomial.critical(trials, alpha, alternative="less"), binomial.critical(trials, alpha)
    assert lower == (None if high is None else trials - high)


@settings(max_examples=100, deadline=None)
@given(counts, st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_intervals_are_statsmodels_and_contain_what_was_seen(count: tuple[int, int], level: float) -> None:
    correct, trials = count
    for ours, method in ((intervals.clopper_pearson, "beta"), (intervals.wilson, "wilson")):
        found = ours(correct, trials, level)
        low, high = proportion_confint(correct, trials, 1 - level, method=method)
        assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)
        assert found.low <= correct / trials <= found.high
        wider = ours(correct, trials, (1 + level) / 2)
        assert wider.low <= found.low <= found.high <= wider.high


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 300), st.floats(0.05, 1.0), alphas, st.sampled_from(["greater", "two-sided"]))
def test_power_is_the_sum_over_what_reaches_the_criterion(
    trials: int, proportion: float, alpha: float, alternative: binomial.Alternative
) -> None:
    found = binomial_power.power(trials, proportion, alpha, alternative=alternative)
    needed = binomial.critical(trials, alpha, alternative=alternative)
    assert found.critical == needed
    shown = [
        k for k in range(trials + 1)
        if needed is not None and (k >= needed or (alternative == "two-sided" and trials - k >= needed))
    ]  # fmt: skip
    assert found.power == pytest.approx(binom.pmf(shown, trials, proportion).sum() if shown else 0, abs=1e-9)
    assert found.alpha_actual == pytest.approx(binom.pmf(shown, trials, 0.5).sum() if shown else 0, abs=1e-9)
    assert found.alpha_actual <= alpha + 1e-12


@cache
def plain_criteria(tail: float) -> np.ndarray:
    """For each number of trials from 1 to 1500, the first count whose upper tail is small enough."""
    return np.array([int(np.argmax(binom.sf(np.arange(n + 2) - 1, n, 0.5) <= tail)) for n in range(1, 1501)])


@pytest.mark.parametrize("alternative", ["greater", "two-sided"])
@pytest.mark.parametrize("proportion", [0.58, 0.62, 0.66, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 0.99, 1.0])
@pytest.mark.parametrize("wanted", [0.5, 0.8, 0.9, 0.95])
def test_sample_sizes_are_those_of_a_plain_search(
    proportion: float, wanted: float, alternative: binomial.Alternative
) -> None:
    found = binomial_power.sample_size(proportion, wanted, alternative=alternative)
    trials = np.arange(1, 1501)
    needed = plain_criteria(0.025 if alternative == "two-sided" else 0.05)
    reached = binom.sf(needed - 1, trials, proportion)
    if alternative == "two-sided":
        reached = reached + binom.cdf(trials - needed, trials, proportion)
    enough = reached >= wanted
    assert found.trials_first == trials[enough][0]
    short = np.flatnonzero(~enough)
    assert found.trials_stable == (trials[short[-1]] + 1 if short.size else 1)


@given(st.floats(0, 8), st.sampled_from([("abx", "independent"), ("abx", "differencing"), ("2afc", "independent")]))
def test_sensitivity_undoes_its_function(value: float, way: tuple[str, str]) -> None:
    share = d_prime.proportion_correct(value, *way)
    assert 0.5 <= share <= 1
    if 0.5001 < share < 1 - 1e-9:
        assert d_prime.d_prime(share, *way) == pytest.approx(value, abs=1e-6)


def test_the_abx_functions_are_what_simulated_listeners_do() -> None:
    """One million trials of each listener model; the tolerance is five standard errors."""
    rng, trials, separation = np.random.default_rng(20), 1_000_000, 1.7
    a, b = rng.normal(0, 1, trials), rng.normal(separation, 1, trials)
    x_is_b = rng.random(trials) < 0.5
    x = rng.normal(0, 1, trials) + separation * x_is_b
    within = 5 * 0.5 / trials**0.5
    says_b = np.abs(x - a) > np.abs(x - b)  # the differencing listener
    share = d_prime.proportion_correct(separation, "abx", "differencing")
    assert np.mean(says_b == x_is_b) == pytest.approx(share, abs=within)
    # the independent-observation listener decides first which of A and B is the larger, then on which side X lies
    says_b = (x > separation / 2) == (b > a)
    share = d_prime.proportion_correct(separation, "abx", "independent")
    assert np.mean(says_b == x_is_b) == pytest.approx(share, abs=within)


def test_the_two_forced_choice_function_is_normal() -> None:
    for value in (0.2, 1.0, 2.7):
        assert d_prime.proportion_correct(value, "2afc") == pytest.approx(norm.cdf(value / 2**0.5), abs=1e-12)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_holm_is_statsmodels_and_keeps_the_order(p_values: list[float]) -> None:
    ours = holm.holm(p_values)
    np.testing.assert_allclose(ours, adjusted(p_values), atol=1e-12)
    assert all(corrected >= p_value for corrected, p_value in zip(ours, p_values, strict=True))


def test_holm_on_benjamini_and_hochbergs_fifteen() -> None:
    """Benjamini and Hochberg 1995 (memory; computed): Holm rejects three at .05."""
    p_values = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459]
    p_values += [0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1]
    adjusted = holm.holm(p_values)
    assert adjusted[:5] == pytest.approx([0.0015, 0.0056, 0.0247, 0.1140, 0.2211], abs=5e-5)
    assert sum(value <= 0.05 for value in adjusted) == 3


@given(counts)
def test_a_tally_is_consistent(count: tuple[int, int]) -> None:
    correct, trials = count
    for method in ("abx", "preference"):
        found = count_summary.summarise(method, correct, trials)
        assert (found.verdict == "heard") == (found.p_value <= 0.05)
        document = found.to_document()
        assert document["d_prime"] is None or np.isfinite(document["d_prime"])
    mirrored = count_summary.summarise("preference", trials - correct, trials)
    both = count_summary.summarise("preference", correct, trials)
    assert mirrored.p_value == both.p_value
    if both.d_prime is not None:
        assert mirrored.d_prime == pytest.approx(-both.d_prime, abs=1e-9)


@given(counts)
def test_what_is_still_allowed_is_never_less_than_what_was_seen(count: tuple[int, int]) -> None:
    correct, trials = count
    allowed = largest_difference.largest_difference(correct, trials)
    assert max(0, 2 * correct / trials - 1) <= allowed <= 1
    upper = 0.5 + allowed / 2
    if 0 < allowed < 1:  # at the bound, so few right would be seen in exactly 5 % of sessions
        assert binom.cdf(correct, trials, upper) == pytest.approx(0.05, abs=1e-6)


@pytest.mark.parametrize(
    ("policy", "first", "trials"), [("drop", 9, 13), ("split", 11, 18)], ids=["dropped", "split, the odd one against"]
)
def test_ties_follow_the_policy(policy: str, first: int, trials: int) -> None:
    assert preference.with_ties(9, 4, 5, policy) == preference.PreferenceCounts(first, trials)


def test_splitting_an_odd_tie_never_helps_either_side() -> None:
    one, other = preference.with_ties(9, 4, 3, "split"), preference.with_ties(4, 9, 3, "split")
    assert (one.for_first, other.for_first) == (10, 6)
    assert one.trials == other.trials == 16
    foreseen = preference.with_ties(4, 9, 3, "split", "greater")
    assert foreseen == preference.PreferenceCounts(5, 16)  # the odd one goes to the second, though it has more


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: binomial.binomial_test(5, 4), "from 0 to the 4 trials; got 5"),
        (lambda: binomial.binomial_test(-1, 4), "got -1"),
        (lambda: binomial.binomial_test(True, 4), "whole number"),
        (lambda: binomial.binomial_test(2.5, 4), "whole number"),  # type: ignore[arg-type]
        (lambda: binomial.binomial_test(0, 0), "trials must be a whole number from 1 to 100000; got 0"),
        (lambda: binomial.critical(100_001, 0.05), "got 100001"),
        (lambda: binomial.critical(10, 0), "alpha must lie between 0 and 1"),
        (lambda: binomial.critical(10, 0.05, 1.0), "chance must lie between 0 and 1"),
        (lambda: binomial.critical(10, 0.05, Fraction(1, 3), "two-sided"), "chance 1/2 only"),
        (lambda: binomial.binomial_test(1, 2, alternative="more"), "alternative is one of"),  # type: ignore[arg-type]
        (lambda: intervals.wilson(1, 2, 1.0), "confidence level"),
        (lambda: d_prime.d_prime(1.01, "abx"), "from 0 to 1; got 1.01"),
        (lambda: d_prime.d_prime(0.7, "quintet"), "known for abx, 2afc"),
        (lambda: d_prime.d_prime(0.7, "abx", "guessing"), "listener model of abx"),
        (lambda: d_prime.proportion_correct(-1, "abx"), "d' is 0 or more"),
        (lambda: d_prime.proportion_correct(float("nan"), "abx"), "d' is 0 or more"),
        (lambda: binomial_power.power(10, 1.5), "from 0 to 1"),
        (lambda: binomial_power.power(10, 0.7, alternative="less"), "mirror the proportion"),
        (lambda: binomial_power.sample_size(0.5), "better than chance"),
        (lambda: binomial_power.sample_size(0.502), "more than 20000 trials"),
        (lambda: binomial_power.state("abx", proportion=0.7, d_prime=1), "give the effect once"),
        (lambda: binomial_power.state("duel"), "method is one of abx, preference"),
        (lambda: preference.with_ties(3, 3, 1), "the plan offered none"),
        (lambda: preference.with_ties(1, 0, 0, "guess"), "ties policy is one of"),
        (lambda: preference.with_ties(1, 0, -1, "drop"), "got -1"),
        (lambda: preference.with_ties(1, 0, alternative="more"), "alternative is one of"),  # type: ignore[arg-type]
        (lambda: holm.holm([0.5, 1.2]), "from 0 to 1"),
        (lambda: count_summary.summarise("abx", 3, 2), "from 0 to the 2 trials"),
    ],
)
def test_what_is_out_of_range_is_refused_in_one_line(call: object, says: str) -> None:
    assert callable(call)
    with pytest.raises(StatsError, match=says) as refused:
        call()
    assert "\n" not in str(refused.value)


def test_the_exact_test_loads_neither_numpy_nor_scipy() -> None:
    program = """
import sys
from stats import binomial
binomial.binomial_test(12, 16); binomial.critical(16, 0.05)
print([name for name in ("numpy", "scipy") if name in sys.modules])
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_each_method_asks_for_what_half_hearing_gives() -> None:
    """Truly heard in half of the trials and guessed in the rest: 3/4 at chance 1/2, 2/3 at chance 1/3."""
    effects = {name: method.usual_effect for name, method in COUNTED_METHODS.items()}
    half, third = Fraction(3, 4), Fraction(2, 3)
    assert effects == {"abx": half, "preference": half, "triangle": third, "duo-trio": half, "tetrad": third,
                       "same-different": half}  # fmt: skip


def test_only_what_can_be_right_has_a_largest_difference_and_only_abx_a_roving_pair() -> None:
    for method in COUNTED_METHODS:
        found = count_summary.summarise(method, 12, 16)
        assert (found.largest_difference is None) == (method == "preference")
        assert (found.d_prime_differencing is None) == (method != "abx")
    # psychometric tables: 75 % right in ABX is 2.02 by differencing
    assert count_summary.summarise("abx", 12, 16).d_prime_differencing == pytest.approx(2.02, abs=5e-3)


def test_a_planner_who_says_nothing_gets_four_fifths() -> None:
    assert binomial_power.state("abx").needed == binomial_power.sample_size(0.75, 0.8, 0.05, 0.5, "greater")
    assert binomial_power.sample_size(0.75, alternative="two-sided") == binomial_power.sample_size(
        0.25, alternative="two-sided"
    )
