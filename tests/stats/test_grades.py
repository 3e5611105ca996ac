"""Grades against scipy and every possible outcome."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy.stats import binomtest, permutation_test, ttest_1samp

from stats import hidden_reference, multi_stimulus, permuted_medians, sign_flips
from stats.errors import StatsError
from stats.post_screening import by_reference_and_anchor as post_screen

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

    @pytest.mark.parametrize("number", [2, 14])
    def test_the_mean_s_interval_is_scipys(self, number: int) -> None:
        grades = np.round(RNG.normal(-0.3, 0.8, number), 1)
        found = hidden_reference.expertise(grades.tolist())
        ends = ttest_1samp(grades, 0).confidence_interval()
        assert (found.low, found.high) == (pytest.approx(ends.low), pytest.approx(ends.high))
        assert (found.mean, found.sd) == (pytest.approx(grades.mean()), pytest.approx(grades.std(ddof=1)))

    def test_a_listener_s_p_is_that_of_all_signs(self) -> None:
        """Four cases in 32: all below 0, or one of the two 0.1 above it, or both."""
        assert hidden_reference.expertise([-1.0, -0.5, -0.4, 0.1, 0.1]).p_value == 4 / 32

    def test_grades_without_spread(self) -> None:
        found = hidden_reference.expertise([-1.0] * 4)
        assert (found.sd, found.low, found.p_value) == (0.0, None, 1 / 16)
        assert hidden_reference.expertise([0.0] * 4).p_value == 1

    def test_of_one_grade_there_is_no_spread(self) -> None:
        none, one = hidden_reference.expertise([]), hidden_reference.expertise([-3.0])
        assert (none.trials, none.mean, none.p_value) == (0, 0.0, 1.0)
        assert (one.trials, one.mean, one.p_value) == (1, -3.0, 0.5)
        assert (one.sd, one.low, one.high) == (None, None, None)

    def test_a_level_out_of_range_is_refused(self) -> None:
        with pytest.raises(StatsError, match="confidence level must lie between 0 and 1; got 2"):
            hidden_reference.expertise([-1.0, -2.0], level=2)


class TestMultiStimulus:
    def test_a_difference_that_everybody_gives_is_found(self) -> None:
        """A hundred against sixty in all of eight trials: two of 256 exchanges are so far apart."""
        assert multi_stimulus.permutation_test([100.0] * 8, [60.0] * 8) == 2 / 256

    @pytest.mark.parametrize("step", [1.0, 0.1])
    @pytest.mark.parametrize("number", [2, 4, 7, 10])
    def test_its_p_is_scipys_of_all_exchanges(self, number: int, step: float) -> None:
        one, two = RNG.integers(40, 100, number) * step, RNG.integers(35, 90, number) * step
        turned = permutation_test(
            (one, two),
            lambda a, b, axis: np.round(np.mean(a, axis=axis) - np.mean(b, axis=axis), 9),
            permutation_type="samples",
            n_resamples=np.inf,
            vectorized=True,
        )
        found = multi_stimulus.permutation_test(one.round(1).tolist(), two.round(1).tolist())
        assert found == pytest.approx(np.mean(np.abs(turned.null_distribution) >= abs(turned.statistic) - 1e-9))

    def test_by_hand_four_exchanges_of_sixteen_are_so_far_apart(self) -> None:
        """Differences 3, 2, 1 and −1 sum to 5; all alike (7) and one of the two ones turned (5 twice): six of 16."""
        assert multi_stimulus.permutation_test([53, 42, 31, 20], [50, 40, 30, 21]) == 6 / 16

    def test_many_trials_are_exact_too(self) -> None:
        """Forty that differ by one the same way or the other: the two-sided sign test."""
        assert multi_stimulus.permutation_test([51.0] * 28 + [50.0] * 12, [50.0] * 28 + [51.0] * 12) == pytest.approx(
            binomtest(28, 40).pvalue, rel=1e-12
        )

    def test_who_grades_alike_shows_nothing(self) -> None:
        assert multi_stimulus.permutation_test([70.0] * 9, [70.0] * 9) == 1.0
        assert multi_stimulus.permutation_test([70.0, 60.0], [60.0, 70.0]) == 1.0

    @pytest.mark.parametrize("decimals", [0, 2])
    def test_very_many_trials_give_the_same_by_another_way(
        self, monkeypatch: pytest.MonkeyPatch, decimals: int
    ) -> None:
        differences = (RNG.integers(-25, 28, 300) / 10**decimals).tolist()
        counted = [sign_flips.one_sided_p(part, decimals) for part in (differences, [-one for one in differences])]
        monkeypatch.setattr(sign_flips, "MOST_STEPS", 0)
        transformed = [sign_flips.one_sided_p(part, decimals) for part in (differences, [-one for one in differences])]
        assert transformed == pytest.approx(counted, abs=2e-12)
        assert transformed >= counted  # never a smaller p
        assert sign_flips.one_sided_p([-1.0] * 3, 0) == pytest.approx(1 / 8, abs=2e-12)

    def test_what_cannot_be_gone_through_is_refused(self) -> None:
        with pytest.raises(StatsError, match="2 differences of 60000001 steps in all are too many"):
            sign_flips.one_sided_p([1.0, 60_000_000.0])

    def test_outliers_are_flagged_and_stay(self) -> None:
        found = multi_stimulus.summary([50, 51, 52, 53, 54, 95])
        assert found.outliers == (95,)
        assert found.grades == 6

    @pytest.mark.parametrize("pairs", [5, 20])
    @pytest.mark.parametrize("value", [float("nan"), float("inf")])
    def test_a_grade_that_is_no_number_is_no_evidence(self, pairs: int, value: float) -> None:
        whole = [50.0] * pairs
        for one, two in (([value, *whole[1:]], whole), (whole, [*whole[1:], value])):
            with pytest.raises(StatsError, match="every grade must be a number"):
                multi_stimulus.permutation_test(one, two)
            with pytest.raises(StatsError, match="every grade must be a number"):
                permuted_medians.permutation_test(one, two, RNG)
        for call in (multi_stimulus.hinges, multi_stimulus.summary):
            with pytest.raises(StatsError, match="every grade must be a number"):
                call([value, *whole])

    @pytest.mark.parametrize("missing", [None, float("nan")])
    def test_an_item_without_a_grade_counts_neither_for_nor_against(self, missing: float | None) -> None:
        anchor = {"Ada": [30.0] * 8}
        row = [80.0, 95.0, 95.0, *[missing] * 5]
        excluded = post_screen({"Ada": row}, anchor).excluded
        assert excluded == {"Ada": "graded the hidden reference below 90 in 1 of 3 items"}
        assert post_screen({"Ada": [missing] * 8}, anchor).excluded == {"Ada": "graded nothing"}

    @pytest.mark.parametrize("missing", [None, float("nan")])
    def test_the_share_of_assessors_is_of_those_who_graded_the_item(self, missing: float | None) -> None:
        # one of three (more than a quarter) hears the first item's mid anchor above 90, one did not grade it
        good = {name: [100.0] * 2 for name in "ABCD"}
        anchor = {"A": [95.0, 30.0], "B": [30.0, 30.0], "C": [30.0, 30.0], "D": [missing, 30.0]}
        assert post_screen(good, anchor).kept == tuple("ABCD")
        anchor["D"] = [30.0, 30.0]  # one of four is a quarter exactly
        assert post_screen(good, anchor).kept == tuple("BCD")

    @pytest.mark.parametrize("grade", [0.1, 33.3, 50.0, 70.1])
    def test_grades_all_the_same_have_no_camps(self, grade: float) -> None:
        found = multi_stimulus.summary([grade] * 7)
        assert found.bimodality is None
        assert found.outliers == ()
        assert (found.low, found.high) == (pytest.approx(grade), pytest.approx(grade))

    def test_nothing_is_refused_quietly(self) -> None:
        with pytest.raises(StatsError, match="same number of grades"):
            multi_stimulus.permutation_test([1, 2], [1])
        with pytest.raises(StatsError, match="same number of grades"):
            multi_stimulus.permutation_test([], [])
        with pytest.raises(StatsError, match="more than 3 decimals"):
            multi_stimulus.permutation_test([1.00005], [2.0])
        with pytest.raises(StatsError, match="at least one grade"):
            multi_stimulus.hinges([])
        with pytest.raises(StatsError, match="same listeners"):
            post_screen({"Ada": [100]}, {"Bo": [30]})


class TestPermutedMedians:
    """The test that plans of before were sealed with."""

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
        found = permuted_medians.permutation_test(one.tolist(), two.tolist(), RNG)
        assert (found.value, found.error) == (pytest.approx(wanted), None)

    def test_a_p_that_is_drawn_counts_the_seen_exchange(self) -> None:
        """Twenty trials all the same way: no other exchange of medians is as far, so p is 1 in draws + 1."""
        first, second = [100.0] * 20, [float(n) for n in range(20)]
        found = permuted_medians.permutation_test(first, second, np.random.default_rng(1), draws=199)
        assert (found.value, found.draws) == (1 / 200, 199)
        assert found.error == pytest.approx((1 / 200 * 199 / 200 / 199) ** 0.5)

    def test_one_draw_is_a_test_and_none_is_not(self) -> None:
        assert permuted_medians.permutation_test([1.0] * 13, [1.0] * 13, np.random.default_rng(1), draws=1).value == 1
        with pytest.raises(StatsError, match="at least one draw; got 0"):
            permuted_medians.permutation_test([1, 2], [1, 3], RNG, draws=0)
        with pytest.raises(StatsError, match="same number of grades"):
            permuted_medians.permutation_test([1, 2], [1], RNG)

    def test_many_trials_are_drawn(self) -> None:
        one, two = RNG.integers(40, 100, 16), RNG.integers(35, 95, 16)
        turned = (np.arange(2**16)[:, None] >> np.arange(16)) & 1 == 1
        apart = np.abs(np.median(np.where(turned, two, one), axis=1) - np.median(np.where(turned, one, two), axis=1))
        wanted = np.mean(apart >= abs(np.median(one) - np.median(two)) - 1e-9)
        found = permuted_medians.permutation_test(one.tolist(), two.tolist(), np.random.default_rng(1))
        assert found.value == pytest.approx(wanted, abs=4 * 0.5 / 100)
