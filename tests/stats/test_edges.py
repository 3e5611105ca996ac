"""Edges of the statistics that once went wrong: numpy's integers, chances out of range, large counts, far searches."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import binom, binomtest, norm

from stats import binomial, binomial_power, holm, preference
from stats.errors import StatsError


def test_numpys_whole_numbers_count_like_pythons() -> None:
    assert binomial.critical(np.int64(100), 0.05) == binomial.critical(100, 0.05) == 59  # type: ignore[arg-type]
    for chance, alternative in ((0.5, "greater"), (1 / 3, "two-sided")):
        found = binomial.binomial_test(np.int64(62), np.int64(80), chance, alternative)  # type: ignore[arg-type]
        assert found.p_value == pytest.approx(binomtest(62, 80, chance, alternative).pvalue, rel=1e-9)


@pytest.mark.parametrize("chance", [0.0, 1.0, 1.5, -0.2, float("nan")])
def test_power_refuses_a_chance_out_of_range(chance: float) -> None:
    for call in (
        lambda: binomial_power.power(10, 0.7, 0.05, chance),
        lambda: binomial_power.sample_size(0.7, 0.8, 0.05, chance),
    ):
        with pytest.raises(StatsError, match="chance must lie between 0 and 1"):
            call()


def test_power_takes_a_chance_as_a_fraction() -> None:
    assert binomial_power.power(66, 0.6, 0.05, Fraction(1, 3)) == binomial_power.power(66, 0.6, 0.05, 1 / 3)


def test_a_power_out_of_range_is_named() -> None:
    with pytest.raises(StatsError, match=r"the power wanted must lie between 0 and 1; got 1\.0"):
        binomial_power.sample_size(0.7, 1.0)


@pytest.mark.parametrize("count", [1.0, "1", None, -1, float("nan")])
def test_a_preference_count_that_is_none_is_refused(count: object) -> None:
    with pytest.raises(StatsError, match="the count must be a whole number"):
        preference.with_ties(count, 2)  # type: ignore[arg-type]


@pytest.mark.parametrize("trials", [35, 39, 99, 299])
def test_a_tail_that_equals_alpha_reaches_it(trials: int) -> None:
    """With an odd number of trials P(X >= (n + 1)/2) is one half by symmetry."""
    assert binomial.critical(trials, 0.5) == binomial_power.power(trials, 0.7, 0.5).critical == (trials + 1) // 2


@pytest.mark.parametrize("proportion", [0.509, 0.5095, 0.51])
def test_a_search_reaches_all_the_trials_it_promises(proportion: float) -> None:
    trials = np.arange(1, 40_001)
    needed = binom.isf(0.05, trials, 0.5) + 1  # isf is the least k with P(X > k) <= alpha
    enough = binom.sf(needed - 1, trials, proportion) >= 0.8
    found = binomial_power.sample_size(proportion)
    assert (found.trials_first, found.trials_stable) == (trials[enough][0], trials[~enough][-1] + 1)
    assert 15_000 < found.trials_stable <= binomial_power.MOST_SEARCHED


@pytest.mark.parametrize("alternative", ["greater", "less", "two-sided"])
def test_ten_thousand_answers_of_a_poll_are_still_exact(alternative: binomial.Alternative) -> None:
    ours = binomial.binomial_test(5_083, 10_000, alternative=alternative).p_value
    assert ours == pytest.approx(binomtest(5_083, 10_000, alternative=alternative).pvalue, rel=1e-9)


def test_the_triangle_saw_tooth_is_stable_from_318() -> None:
    """d' .9, alpha .05, power .80 (n 318 read in a general sensory statistics package's vignette; first n computed)."""
    shift = 0.9 * (2 / 3) ** 0.5
    right = quad(lambda z: (norm.cdf(shift - z * 3**0.5) + norm.cdf(-shift - z * 3**0.5)) * norm.pdf(z), 0, 10)
    share = 2 * right[0]
    assert share == pytest.approx(0.4030, abs=5e-5)
    found = binomial_power.sample_size(share, 0.8, 0.05, 1 / 3)
    assert found.trials_stable == 318
    _, _, reached = binomial_power.curve(found.trials_stable, found.trials_stable + 300, share, 0.05, 1 / 3)
    assert min(reached) >= 0.8


def test_holms_four() -> None:
    """Holm's adjusted .01 .04 .03 .005 (memory; computed): the first and the last hold at 5 %."""
    assert holm.holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert holm.holm([]) == []
    assert holm.holm([1, 0.035698, 0.035698]) == pytest.approx([1, 0.1071, 0.1071], abs=5e-5)  # exact McNemar, computed


def test_thirty_three_of_sixty_triangles() -> None:
    """Computed, no print seen."""
    assert binomial.binomial_test(33, 60, Fraction(1, 3)).p_value == pytest.approx(0.000451, abs=5e-7)
