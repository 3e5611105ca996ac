"""The power of graded methods and round robins is that of their own tests, and says where none can be had."""

from __future__ import annotations

from itertools import combinations, product
from math import comb, sqrt

import numpy as np
import pytest
from scipy.stats import norm, ttest_1samp

from stats import (
    difference_grade_power,
    hidden_reference,
    multi_stimulus,
    permuted_medians,
    quality_grade_power,
    round_robin,
    round_robin_power,
    sign_flip_power,
    t_test_power,
)
from stats.errors import StatsError


class TestDifferenceGrades:
    @pytest.mark.parametrize("effect", [0.5, 1.0, 2.0, 5.0])
    def test_of_five_trials_all_must_be_below_zero(self, effect: float) -> None:
        """The next best p is 2/32, more than 5 %: so the power is Φ(effect) to the fifth."""
        found = difference_grade_power.power(5, effect)
        assert found.power == pytest.approx(norm.cdf(effect) ** 5, abs=4 * (found.error or 0))

    @pytest.mark.parametrize(("trials", "alpha"), [(3, 0.05), (4, 0.05), (13, 0.0001), (1, 0.49)])
    def test_too_few_trials_have_none(self, trials: int, alpha: float) -> None:
        found = difference_grade_power.power(trials, 5.0, alpha)
        assert (found.power, found.error, found.reachable) == (0.0, None, False)
        best = [-1.0 - n / 10 for n in range(trials)]
        assert hidden_reference.randomisation_test(best) > alpha
        assert hidden_reference.randomisation_test(best * found.least) <= alpha

    def test_the_least_number_is_the_first_that_can(self) -> None:
        for alpha in (0.5, 0.25, 0.05, 0.01, 1 / 1024):
            least = difference_grade_power.least_trials(alpha)
            assert hidden_reference.randomisation_test([-1.0] * least) <= alpha
            assert least == 1 or hidden_reference.randomisation_test([-1.0] * (least - 1)) > alpha

    def test_it_is_the_share_of_data_sets_that_the_test_itself_finds(self) -> None:
        rng, number = np.random.default_rng(11), 600
        for trials, effect in ((8, 0.7), (16, 0.5)):
            grades = np.round(rng.normal(-effect, 1, (number, trials)), 1)
            reached = np.mean([hidden_reference.randomisation_test(row.tolist()) <= 0.05 for row in grades])
            found = difference_grade_power.power(trials, effect)
            assert reached == pytest.approx(found.power, abs=4 * sqrt(0.25 / number + (found.error or 0) ** 2))

    def test_the_saddlepoint_is_near_the_exact_p(self) -> None:
        found = np.random.default_rng(12).normal(0.4, 1, (200, 14))
        exact = sign_flip_power.enumerated_p(found)
        near = sign_flip_power.saddlepoint_p(found)
        usual = (exact > 0.003) & (exact < 0.6)
        assert usual.sum() > 100
        apart = np.abs(near / exact - 1)[usual]
        assert np.median(apart) < 0.02
        assert apart.max() < 0.15
        assert np.mean(near <= 0.05) == pytest.approx(np.mean(exact <= 0.05), abs=0.01)

    def test_of_many_trials_it_is_that_of_students_t(self) -> None:
        drawn = np.random.default_rng(13).normal(-0.2, 1, (2000, 150))
        reached = np.mean(ttest_1samp(drawn, 0, axis=1, alternative="less").pvalue <= 0.05)
        found = difference_grade_power.power(150, 0.2)
        assert found.power == pytest.approx(reached, abs=4 * sqrt(0.25 / 2000 + 0.25 / 4000))
        assert difference_grade_power.power(400, 5.0).power == 1.0

    def test_the_number_needed_is_the_first_that_finds_it(self) -> None:
        for effect in (0.5, 0.8, 2.0, 5.0):
            needed = difference_grade_power.sample_size(effect)
            assert difference_grade_power.power(needed, effect).power >= 0.8
            assert difference_grade_power.power(needed - 1, effect).power < 0.8


class TestQualityGrades:
    def test_medians_after_exchanges_are_numpys(self) -> None:
        rng = np.random.default_rng(14)
        for trials in (1, 2, 3, 8, 9, 150):
            one, two = rng.integers(0, 30, trials).astype(float), rng.integers(0, 30, trials).astype(float)
            turned = rng.random((trials, 40)) < 0.5
            left, right = np.where(turned.T, two, one), np.where(turned.T, one, two)
            wanted = np.abs(np.median(left, axis=1) - np.median(right, axis=1))
            np.testing.assert_allclose(permuted_medians.medians_apart(one, two, turned), wanted)

    @pytest.mark.parametrize(("trials", "setups"), [(5, 2), (4, 3), (6, 3), (9, 7)])
    def test_too_few_trials_have_none(self, trials: int, setups: int) -> None:
        found = quality_grade_power.power(trials, 5.0, 0.05, setups)
        assert (found.power, found.reachable) == (0.0, False)
        assert 2 / 2**trials > 0.05 / comb(setups, 2) >= 2 / 2**found.least

    def test_it_is_the_share_of_data_sets_that_the_test_finds(self) -> None:
        rng, number, trials, effect = np.random.default_rng(15), 400, 9, 1.3
        reached = 0
        for _ in range(number):
            one, two = (np.round(rng.normal(mean, sqrt(0.5), trials), 3) for mean in (effect, 0))
            reached += multi_stimulus.permutation_test(one.tolist(), two.tolist()) <= 0.05 / 3
        found = quality_grade_power.power(trials, effect, 0.05, 3)
        assert reached / number == pytest.approx(found.power, abs=4 * sqrt(0.25 / number + (found.error or 0) ** 2))

    def test_beyond_what_is_simulated_it_goes_on_without_a_leap(self) -> None:
        within, beyond = quality_grade_power.power(200, 0.21), quality_grade_power.power(201, 0.21)
        assert (within.by, beyond.by) == ("simulation", "approximation")
        assert beyond.power == pytest.approx(within.power, abs=4 * (within.error or 0))

    @pytest.mark.parametrize("effect", [0.0, 0.5, 1.2])
    def test_of_six_trials_all_must_differ_the_same_way(self, effect: float) -> None:
        """The next best p is 4/64, more than 5 %: so the power is Φ(effect)⁶ + Φ(−effect)⁶."""
        found = quality_grade_power.power(6, effect)
        wanted = norm.cdf(effect) ** 6 + norm.cdf(-effect) ** 6
        assert found.power == pytest.approx(wanted, abs=4 * (found.error or 0))

    def test_the_number_needed_finds_it(self) -> None:
        for effect, setups in ((5.0, 3), (1.2, 2)):
            needed = quality_grade_power.sample_size(effect, 0.8, 0.05, setups)
            assert quality_grade_power.power(needed, effect, 0.05, setups).power >= 0.8
            assert quality_grade_power.power(needed - 1, effect, 0.05, setups).power < 0.8

    def test_what_would_take_too_many_is_said(self) -> None:
        with pytest.raises(StatsError, match="more than 5000 trials would be needed"):
            quality_grade_power.sample_size(0.01)


class TestRoundRobin:
    @pytest.mark.parametrize(("setups", "rounds"), [(3, 3), (3, 4), (4, 1)])
    def test_every_outcome_is_gone_through(self, setups: int, rounds: int) -> None:
        pairs = list(combinations(range(setups), 2))
        uneven, chances = [], []
        for wins in product(range(rounds + 1), repeat=len(pairs)):
            lead = [0.0] * setups
            for (i, j), won in zip(pairs, wins, strict=True):
                lead[i] += won - rounds / 2
                lead[j] -= won - rounds / 2
            uneven.append(sum(one * one for one in lead))
            chances.append(np.prod([comb(rounds, won) / 2**rounds for won in wins]))
        for wins in list(product(range(rounds + 1), repeat=len(pairs)))[::3]:
            lead = [0.0] * setups
            for (i, j), won in zip(pairs, wins, strict=True):
                lead[i] += won - rounds / 2
                lead[j] -= won - rounds / 2
            seen = sum(one * one for one in lead)
            wanted = sum(chance for at, chance in zip(uneven, chances, strict=True) if at >= seen - 1e-9)
            counts = {pair: (won, rounds) for pair, won in zip(pairs, wins, strict=True)}
            found = round_robin.equality_test(counts, np.random.default_rng(1))
            assert (found.value, found.draws) == (pytest.approx(wanted), None)

    @pytest.mark.parametrize("setups", [3, 4, 5])
    def test_the_least_rounds_are_the_first_that_can(self, setups: int) -> None:
        least = round_robin_power.least_rounds(setups, 0.05)
        for rounds in (least - 1, least):
            wins = dict.fromkeys(combinations(range(setups), 2), (rounds, rounds))
            p = round_robin.equality_test(wins, np.random.default_rng(1)).value if rounds else 1.0
            assert (p <= 0.05) is (rounds == least)
        assert round_robin_power.power(setups, least, 0.99).power > 0
        if least > 1:
            found = round_robin_power.power(setups, least - 1, 0.99)
            assert (found.power, found.least) == (0.0, least * comb(setups, 2))

    def test_where_outcomes_are_too_many_power_is_simulated_with_its_error(self) -> None:
        found = round_robin_power.power(7, 4, 0.75)
        assert found.by == "simulation"
        assert 0 < (found.error or 0) < 0.004

    def test_the_number_needed_is_a_multiple_of_the_pairs_and_finds_it(self) -> None:
        needed = round_robin_power.sample_size(4, 0.75)
        assert needed % 6 == 0
        assert round_robin_power.power(4, needed // 6, 0.75).power >= 0.8
        assert round_robin_power.power(4, needed // 6 - 1, 0.75).power < 0.8


@pytest.mark.parametrize("effect", [0.8, 5.0, 50.0, 1e6])
@pytest.mark.parametrize("trials", [2, 20, 5000])
def test_no_power_is_no_number(trials: int, effect: float) -> None:
    assert 0 <= t_test_power.power(trials, effect, two_sided=True) <= 1
    assert 0 <= difference_grade_power.power(trials, effect).power <= 1
