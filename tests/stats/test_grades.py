"""Grades and choices against scipy, statsmodels and every possible outcome."""

from __future__ import annotations

import re
from itertools import combinations, product

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import friedmanchisquare, permutation_test, ttest_1samp

from stats import bradley_terry, circular_triads, hidden_reference, multi_stimulus, rank_tests, round_robin
from stats.bradley_terry import Comparison
from stats.errors import StatsError

RNG = np.random.default_rng(4)


class TestHiddenReference:
    @pytest.mark.parametrize("number", [1, 2, 5, 9])
    def test_the_exact_p_is_the_share_of_all_signs(self, number: int) -> None:
        for _ in range(10):
            grades = RNG.integers(-20, 12, number) / 10
            sums = [float(np.dot(signs, np.abs(grades))) for signs in product((-1, 1), repeat=number)]
            wanted = np.mean([total <= grades.sum() + 1e-9 for total in sums])
            assert hidden_reference.randomisation_test(grades.tolist()) == pytest.approx(wanted)

    def test_it_is_exact_for_many_trials_too(self) -> None:
        """Five hundred differences of the same size: a sign test, by the binomial distribution."""
        from scipy.stats import binom

        grades = [-0.1] * 280 + [0.1] * 220
        assert hidden_reference.randomisation_test(grades) == pytest.approx(binom.sf(279, 500, 0.5), rel=1e-9)

    def test_trials_left_out_change_nothing_by_themselves(self) -> None:
        assert hidden_reference.randomisation_test([-1.0, -0.5, 0, 0, 0]) == 0.25
        assert hidden_reference.randomisation_test([]) == 1.0

    def test_the_t_test_is_scipys(self) -> None:
        grades = RNG.normal(-0.3, 0.8, 14)
        found = hidden_reference.expertise(grades.tolist())
        wanted = ttest_1samp(grades, 0, alternative="less")
        ends = ttest_1samp(grades, 0).confidence_interval()
        assert (found.t, found.p_value) == (pytest.approx(wanted.statistic), pytest.approx(wanted.pvalue))
        assert (found.low, found.high) == (pytest.approx(ends.low), pytest.approx(ends.high))

    def test_grades_without_spread(self) -> None:
        assert hidden_reference.expertise([-1.0] * 4).p_value == 1 / 16
        assert hidden_reference.expertise([0.0] * 4).p_value == 1
        assert hidden_reference.expertise([-1.0]).p_value == 1

    def test_power_is_what_simulation_finds(self) -> None:
        for trials, effect in ((8, 0.8), (20, 0.5)):
            drawn = RNG.normal(-effect, 1, (20_000, trials))
            t = drawn.mean(axis=1) / (drawn.std(axis=1, ddof=1) / trials**0.5)
            from scipy.stats import t as student

            reached = np.mean(t <= student.ppf(0.05, trials - 1))
            assert hidden_reference.power(trials, effect) == pytest.approx(reached, abs=4 * 0.5 / 20_000**0.5)
        assert hidden_reference.power(hidden_reference.sample_size(0.5), 0.5) >= 0.8
        assert hidden_reference.power(hidden_reference.sample_size(0.5) - 1, 0.5) < 0.8


class TestMultiStimulus:
    @pytest.mark.parametrize("number", [4, 7])
    def test_few_trials_are_gone_through_as_scipy_does(self, number: int) -> None:
        one, two = RNG.integers(40, 100, number), RNG.integers(30, 90, number)
        wanted = permutation_test(
            (one, two),
            lambda a, b: abs(np.median(a) - np.median(b)),
            permutation_type="samples",
            alternative="greater",
            n_resamples=np.inf,
            vectorized=False,
        ).pvalue
        found = multi_stimulus.permutation_test(one.tolist(), two.tolist(), RNG)
        assert found == pytest.approx(wanted)

    def test_many_trials_are_drawn(self) -> None:
        one, two = RNG.integers(40, 100, 16), RNG.integers(35, 95, 16)
        turned = (np.arange(2**16)[:, None] >> np.arange(16)) & 1 == 1
        apart = np.abs(np.median(np.where(turned, two, one), axis=1) - np.median(np.where(turned, one, two), axis=1))
        wanted = np.mean(apart >= abs(np.median(one) - np.median(two)) - 1e-9)
        found = multi_stimulus.permutation_test(one.tolist(), two.tolist(), np.random.default_rng(1))
        assert found == pytest.approx(wanted, abs=4 * 0.5 / 100)

    def test_outliers_are_flagged_and_stay(self) -> None:
        found = multi_stimulus.summary([50, 51, 52, 53, 54, 95])
        assert found.outliers == (95,)
        assert found.grades == 6

    def test_nothing_is_refused_quietly(self) -> None:
        with pytest.raises(StatsError, match="same number of grades"):
            multi_stimulus.permutation_test([1, 2], [1], RNG)
        with pytest.raises(StatsError, match="at least one grade"):
            multi_stimulus.hinges([])
        with pytest.raises(StatsError, match="same listeners"):
            multi_stimulus.post_screen({"Ada": [100]}, {"Bo": [30]})


class TestBradleyTerry:
    def test_it_is_the_logistic_regression_it_is_said_to_be(self) -> None:
        rows = [
            Comparison(i, j, int(RNG.integers(1, 9)), int(RNG.integers(1, 9)))
            for i in range(4)
            for j in range(4)
            if i != j
        ]
        design = np.zeros((len(rows), 4))
        for place, row in enumerate(rows):
            design[place, row.first] += 1
            design[place, row.second] -= 1
        design = np.column_stack([design[:, 1:], np.ones(len(rows))])
        counts = np.array([[row.wins_first, row.wins_second] for row in rows])
        wanted = sm.GLM(counts, design, family=sm.families.Binomial()).fit()
        found = bradley_terry.fit(rows, order_effect=True)
        assert (*found.abilities[1:], found.order) == pytest.approx(tuple(wanted.params), abs=1e-6)
        assert (*found.errors[1:], found.order_error) == pytest.approx(tuple(wanted.bse), rel=1e-5)
        assert found.deviance == pytest.approx(wanted.deviance, rel=1e-6)

    def test_a_setup_that_always_wins_is_fitted_with_a_note(self) -> None:
        rows = [Comparison(0, 1, 5, 0), Comparison(0, 2, 5, 0), Comparison(1, 2, 3, 2)]
        found = bradley_terry.fit(rows)
        assert "Half a choice" in found.note
        assert found.shares[0] > 0.8
        assert np.isfinite(found.errors).all()

    def test_setups_that_never_met_are_named(self) -> None:
        with pytest.raises(StatsError, match="never compared"):
            bradley_terry.fit([Comparison(0, 1, 3, 2), Comparison(2, 3, 3, 2)])

    def test_an_order_effect_needs_more_than_one_order_or_a_circle(self) -> None:
        assert bradley_terry.fit([Comparison(0, 1, 3, 2)], order_effect=True).order is None


class TestRanks:
    def test_friedman_is_scipys(self) -> None:
        table = RNG.integers(0, 6, (9, 4)).astype(float)
        wanted = friedmanchisquare(*table.T)
        found = rank_tests.friedman(table.tolist())
        assert (found.chi_square, found.p_value) == (pytest.approx(wanted.statistic), pytest.approx(wanted.pvalue))

    def test_complete_blocks_are_a_case_of_durbins(self) -> None:
        table = RNG.permuted(np.tile(np.arange(1.0, 5), (6, 1)), axis=1)
        whole = rank_tests.durbin([[0, 1, 2, 3]] * 6, table.tolist())
        assert whole.chi_square == pytest.approx(rank_tests.friedman(table.tolist()).chi_square)

    @pytest.mark.parametrize(
        ("call", "says"),
        [
            (lambda: rank_tests.friedman([[1, 1], [2, 2]]), "tied throughout"),
            (lambda: rank_tests.friedman([[1, 2], [1]]), "two rows of equal length"),
            (lambda: rank_tests.durbin([[0, 1], [0, 2]], [[1, 2], [1, 2]]), "not balanced"),
            (lambda: circular_triads.circular_triads([[0, 1], [0, 0]]), "at least 3 setups"),
            (lambda: circular_triads.circular_triads([[0, 1, 1], [1, 0, 1], [0, 0, 0]]), "one preference between"),
            (lambda: round_robin.equality_test({(0, 1): (3, 4)}, RNG), "at least three setups"),
            (lambda: round_robin.equality_test({(0, 1): (5, 4), (1, 2): (1, 2)}, RNG), "5 of 4 is no count"),
        ],
    )
    def test_what_does_not_fit_is_refused(self, call: object, says: str) -> None:
        assert callable(call)
        with pytest.raises(StatsError, match=re.escape(says)):
            call()


class TestRoundRobin:
    def test_its_p_is_the_share_of_all_outcomes(self) -> None:
        wins = {(0, 1): (3, 3), (0, 2): (3, 3), (1, 2): (2, 3)}
        outcomes = list(product(range(4), repeat=3))
        from math import comb

        def apart(won: tuple[int, ...]) -> float:
            lead = np.zeros(3)
            for (i, j), count in zip(combinations(range(3), 2), won, strict=True):
                lead[i] += count - 1.5
                lead[j] -= count - 1.5
            return float((lead**2).sum())

        chances = np.array([np.prod([comb(3, c) / 8 for c in won]) for won in outcomes])
        reached = np.array([apart(won) >= apart((3, 3, 2)) - 1e-9 for won in outcomes])
        wanted = float(chances[reached].sum())
        found = round_robin.equality_test(wins, np.random.default_rng(2), 100_000)
        assert found == pytest.approx(wanted, abs=4 * (wanted / 100_000) ** 0.5)

    def test_power_is_what_simulation_finds(self) -> None:
        rng = np.random.default_rng(6)
        promised = round_robin.power(3, 8, 0.75, 0.05, rng)
        reached = []
        for _ in range(300):
            first = {(0, 1): (rng.binomial(8, 0.75), 8), (0, 2): (rng.binomial(8, 0.75), 8)}
            reached.append(round_robin.equality_test(first | {(1, 2): (rng.binomial(8, 0.5), 8)}, rng, 2000) <= 0.05)
        assert np.mean(reached) == pytest.approx(promised, abs=4 * 0.5 / 300**0.5)
        assert round_robin.power(3, 8, 0.5, 0.05, rng) <= 0.05 + 4 * (0.05 / 20_000) ** 0.5
