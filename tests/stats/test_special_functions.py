"""Where special functions stand in for scipy.stats, whose import takes most of a second, they give its numbers."""

from __future__ import annotations

import subprocess
import sys
from itertools import product

import numpy as np
import pytest
from scipy import stats as scipy_stats
from scipy.special import betainc, betaincinv

from stats import (
    binomial_power,
    binomial_tail,
    circular_triads,
    hidden_reference,
    rank_tests,
    round_robin,
    same_different,
    t_test_power,
)

PROGRAM = """
import sys
from sessions.commands.main import main
try:
    main(sys.argv[1:])
except SystemExit:
    pass
sys.exit(int(bool({} & set(sys.modules))))
"""


@pytest.mark.parametrize(
    ("trials", "effect", "two_sided"), list(product([2, 5, 12, 40, 300], [0, 0.2, 0.8, 2.5], [False, True]))
)
def test_power_of_the_t_test_is_the_non_central_ts(trials: int, effect: float, two_sided: bool) -> None:
    for alpha in (0.05, 0.001):
        edge = scipy_stats.t.ppf(1 - alpha / (2 if two_sided else 1), trials - 1)
        shift = effect * np.sqrt(trials)
        expected = scipy_stats.nct.sf(edge, trials - 1, shift)
        if two_sided:
            expected += scipy_stats.nct.cdf(-edge, trials - 1, shift)
        found = t_test_power.power(trials, effect, alpha, two_sided=two_sided)
        np.testing.assert_allclose(found, min(1, expected), rtol=1e-7, atol=1e-10)


@pytest.mark.parametrize("chance", [0.5, 1 / 3, 0.1])
@pytest.mark.parametrize("alpha", [0.05, 0.001])
def test_criteria_are_those_of_the_binomials_own_quantiles(chance: float, alpha: float) -> None:
    counts, actual, reached = binomial_power.curve(1, 300, 0.75, alpha, chance)
    trials = np.arange(1, 301)
    rows = [scipy_stats.binom.sf(np.arange(-1, n + 1), n, chance) for n in trials]  # P(X >= 0), P(X >= 1), ...
    expected = [int(np.flatnonzero(row <= alpha * (1 + 1e-12))[0]) for row in rows]
    np.testing.assert_array_equal(counts, expected)
    np.testing.assert_allclose(actual, scipy_stats.binom.sf(np.array(counts) - 1, trials, chance), rtol=1e-9)
    np.testing.assert_allclose(reached, scipy_stats.binom.sf(np.array(counts) - 1, trials, 0.75), rtol=1e-9)


def test_two_sided_power_counts_both_ends() -> None:
    counts, _, reached = binomial_power.curve(1, 60, 0.7, 0.05, alternative="two-sided")
    trials = np.arange(1, 61)
    above = np.array(counts) - 1
    expected = scipy_stats.binom.sf(above, trials, 0.7) + scipy_stats.binom.cdf(trials - above - 1, trials, 0.7)
    np.testing.assert_allclose(reached, expected, rtol=1e-9)


def test_ranks_and_their_tails_are_scipys() -> None:
    table = np.random.default_rng(3).integers(0, 6, (40, 7)).astype(float)
    np.testing.assert_array_equal(rank_tests._ranks(table), scipy_stats.rankdata(table, axis=1))
    for value, freedom in product([0.0, 0.3, 5.0, 80.0], [1, 4, 30]):
        expected = scipy_stats.chi2.sf(value, freedom)
        np.testing.assert_allclose(rank_tests._chi_square_tail(value, freedom), expected, rtol=1e-12)


def test_many_circles_have_the_chi_square_tail() -> None:
    setups, circles = circular_triads.MOST_ENUMERATED + 3, 60
    n = setups
    freedom = n * (n - 1) * (n - 2) / (n - 4) ** 2
    value = freedom + 8 / (n - 4) * (n * (n - 1) * (n - 2) / 6 / 4 - circles - 0.5)
    expected = scipy_stats.chi2.sf(value, freedom)
    np.testing.assert_allclose(circular_triads.chance_of_at_most(circles, setups), expected, rtol=1e-11)


def test_a_listeners_mean_grade_has_students_interval() -> None:
    differences = [-1.0, -0.4, 0.2, -0.7, -1.3, 0.1]
    found = hidden_reference.expertise(differences)
    low, high = scipy_stats.ttest_1samp(differences, 0).confidence_interval(0.95)
    np.testing.assert_allclose([found.low, found.high], [low, high], rtol=1e-12)


@pytest.mark.parametrize(
    ("hits", "different", "alarms", "same"), [(9, 12, 3, 11), (0, 5, 0, 5), (40, 60, 35, 60), (5, 5, 0, 5)]
)
def test_fishers_tail_is_the_hypergeometrics(hits: int, different: int, alarms: int, same: int) -> None:
    expected = scipy_stats.hypergeom.sf(hits - 1, different + same, different, hits + alarms)
    np.testing.assert_allclose(same_different._fisher(hits, different, alarms, same), expected, rtol=1e-11)


@pytest.mark.parametrize("share", [0.0, 0.3, 0.5, 1.0])
def test_outcomes_of_a_pair_have_the_binomials_chances(share: float) -> None:
    found = round_robin.outcomes(2, (((0, 1), 30),), (share,))
    assert found is not None
    chances = scipy_stats.binom.pmf(np.arange(31), 30, share)
    expected = float((chances * (2 * np.arange(31) - 30) ** 2 / 2).sum())
    np.testing.assert_allclose(chances.sum(), found.chances.sum(), rtol=1e-12)
    np.testing.assert_allclose((found.chances * found.uneven).sum(), expected, rtol=1e-12)


@pytest.mark.parametrize("trials", [1, 2, 5, 16, 263, 100_000])
def test_tails_of_the_binomial_are_the_incomplete_betas(trials: int) -> None:
    for count in {1, trials // 3 + 1, trials // 2 + 1, trials}:
        for proportion in (1e-9, 0.1, count / trials, 1 / 3, 0.5, 0.7, 1 - 1e-9):
            found = binomial_tail.at_least(count, trials, proportion)
            np.testing.assert_allclose(found, betainc(count, trials - count + 1, proportion), rtol=1e-10, atol=1e-290)


def test_tails_too_small_for_a_number_have_their_logarithm() -> None:
    found = binomial_tail.log_at_least(99_999, 100_000, 0.01)  # 100 000 ways with one wrong, and one with none
    np.testing.assert_allclose(found, 99_999 * np.log(0.01) + np.log(100_000 * 0.99 + 0.01), rtol=1e-13)


def test_tails_at_the_ends_are_none_and_all() -> None:
    assert binomial_tail.at_least(0, 5, 0.3) == 1
    assert binomial_tail.at_least(6, 5, 0.3) == 0
    assert binomial_tail.at_least(5, 5, 1.0) == 1
    assert binomial_tail.at_least(1, 5, 0.0) == 0


@pytest.mark.parametrize("tail", [1e-6, 0.025, 0.5, 0.975])
@pytest.mark.parametrize("trials", [1, 2, 16, 263, 100_000])
def test_proportions_with_a_tail_are_the_betas_quantiles(trials: int, tail: float) -> None:
    for count in {1, trials // 3 + 1, trials // 2 + 1, trials}:
        found = binomial_tail.proportion_with_tail(count, trials, tail)
        np.testing.assert_allclose(found, betaincinv(count, trials - count + 1, tail), rtol=1e-11)


def test_tally_and_power_of_counts_load_neither_numpy_nor_scipy() -> None:
    for words in (
        ["power", "abx"],
        ["power", "tetrad"],
        ["tally", "abx", "--correct", "12", "--trials", "16"],
        ["tally", "preference", "--for-first", "12", "--trials", "16"],
    ):
        done = subprocess.run(
            [sys.executable, "-c", PROGRAM.format("{'numpy', 'scipy'}"), *words], capture_output=True, text=True
        )
        assert done.returncode == 0, (words, done.stdout, done.stderr)
        assert done.stdout, words


def test_power_of_a_mean_never_loads_scipy_stats() -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM.format("{'scipy.stats'}"), "power", "hidden-reference"],
        capture_output=True,
        text=True,
    )
    assert (done.returncode, bool(done.stdout)) == (0, True), done.stderr
