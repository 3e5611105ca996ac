"""The power of rated words, and of words of many setups, is the share that the planned test itself finds."""

from __future__ import annotations

from math import comb, sqrt

import numpy as np
import pytest

from stats import many_setups_p, many_setups_power, rated_pairs_power, sign_flips, simulated_ratings
from stats.errors import StatsError
from stats.permuted_labels import permutation_test


def given(rng: np.random.Generator, sets: int, trials: int, setups: int, lift: float, spread: float) -> np.ndarray:
    """Whole-number ratings as anyone would draw them, of which the first setup's lie `lift` points higher."""
    places = np.array([5.0 + lift / 2, *[5.0 - lift / 2] * (setups - 1)])
    return np.clip(np.rint(places + spread * rng.standard_normal((sets, trials, setups))), 0, 9)


@pytest.mark.parametrize(("trials", "alpha"), [(16, 0.05 / 3), (24, 0.05 / 6)])
def test_power_of_two_setups_ratings_is_not_that_of_differences_that_never_tie(trials: int, alpha: float) -> None:
    """Ratings drawn here with spreads of 1 to 2 points and an effect of 0.8, judged by `sign_flips` one by one."""
    rng, found = np.random.default_rng(3), rated_pairs_power.power(trials, 0.8, alpha)
    assert found.by == "simulation"
    for spread in (1.0, 2.0):
        pairs = given(rng, 250, trials, 2, 0.8 * sqrt(2 * (spread**2 + 1 / 12)), spread)
        apart = pairs[..., 0] - pairs[..., 1]
        assert apart.mean() / apart.std() == pytest.approx(0.8, abs=0.05)
        reached = np.mean([sign_flips.two_sided_p(row.tolist(), decimals=0) <= alpha for row in apart])
        assert found.power == pytest.approx(reached, abs=4 * sqrt(0.25 / 250 + (found.error or 0) ** 2))
    few = rated_pairs_power.power(16, 0.8, 0.05 / 3)
    assert few.power < 0.66  # of normal differences, which never tie, it is 0.685


@pytest.mark.parametrize("trials", [1, 9, 40])
def test_p_of_many_sets_at_once_is_that_of_each(trials: int) -> None:
    apart = np.random.default_rng(5).integers(-9, 10, (30, trials)).astype(float)
    apart[0] = 0
    wanted = [sign_flips.two_sided_p(row.tolist(), decimals=0) for row in apart]
    np.testing.assert_allclose(rated_pairs_power.two_sided_p(apart), wanted, atol=1e-12)


@pytest.mark.parametrize("effect", [0.5, 0.8, 2.0, 5.0])
def test_simulated_ratings_have_the_effect_they_are_drawn_with(effect: float) -> None:
    ratings = simulated_ratings.drawn(np.random.default_rng(6), 8000, 10, 2, effect * sqrt(2))
    apart = ratings[..., 0] - ratings[..., 1]
    assert apart.mean() / apart.std() == pytest.approx(effect, rel=0.03)
    np.testing.assert_array_equal(ratings, np.rint(ratings))
    assert (ratings.min(), ratings.max()) >= (0, 0)
    assert ratings.max() <= 9


@pytest.mark.parametrize(("trials", "setups"), [(3, 3), (4, 3), (3, 4)])
@pytest.mark.parametrize("rated", [False, True])
def test_p_of_labels_exchanged_in_many_sets_is_that_of_each(trials: int, setups: int, rated: bool) -> None:
    answers = np.random.default_rng(7).integers(0, 10 if rated else 2, (12, trials, setups)).astype(float)
    rng = np.random.default_rng(1)
    wanted = [permutation_test(each[:, :, None].tolist(), rng).p.value for each in answers]
    np.testing.assert_allclose(many_setups_p.p_values(answers, 0.05, rng), wanted, atol=1e-12)


def test_p_by_draws_and_by_moments_are_near_the_exact_p() -> None:
    """Eight trials of three setups are drawn here, and gone through by `permuted_labels`."""
    rng = np.random.default_rng(8)
    answers = given(rng, 10, 8, 3, 1.0, 1.5)
    wanted = np.array([permutation_test(each[:, :, None].tolist(), rng).p.value for each in answers])
    drawn = many_setups_p.p_values(answers, 0.001, rng)
    np.testing.assert_allclose(drawn, wanted, atol=4 * sqrt(0.25 * 0.001 / many_setups_p.BEYOND_ALPHA))
    assert np.abs(many_setups_p.by_moments(answers) - wanted).max() < 0.08
    flat = np.ones((2, 12, 3))
    np.testing.assert_array_equal(many_setups_p.p_values(flat, 0.05, rng), [1.0, 1.0])


@pytest.mark.parametrize(
    ("setups", "trials", "alpha", "effect"), [(3, 5, 0.0167, 3.0), (4, 3, 0.05, 3.0), (3, 6, 0.05 / 6, 1.5)]
)
def test_power_of_many_setups_ratings_is_that_of_the_permutation_test(
    setups: int, trials: int, alpha: float, effect: float
) -> None:
    rng, number = np.random.default_rng(9), 50
    spread = min(1.5, 3 / effect)
    answers = given(rng, number, trials, setups, effect * sqrt(spread**2 + 1 / 12), spread)
    reached = np.mean([permutation_test(e[:, :, None].tolist(), rng, 1000).p.value <= alpha for e in answers])
    found = many_setups_power.ratings_power(effect, setups, trials, alpha)
    assert found.power == pytest.approx(reached, abs=4 * sqrt(0.25 / number + (found.error or 0) ** 2))
    assert (found.error or 0) > 0


def test_power_of_many_setups_ratings_is_told_right_where_a_chi_square_is_wrong() -> None:
    """The first of three at the top of the scale in every trial, both others at its foot, mostly alike.

    An exchange goes as far where it moves the first of every trial to the same setup: p is 3 · (1/3)³ = 0.11 with three
    trials, and 3 · (1/3)⁴ = 0.04 with four. Cochran's statistic of three is 6, of which the chi-square says 0.0498.
    """
    three = many_setups_power.ratings_power(40.0, 3, 3, 0.05)
    assert three.reachable
    assert three.power < 0.3
    assert many_setups_power.ratings_power(40.0, 3, 4, 0.05).power == 1.0


def test_power_of_ticks_of_many_setups_is_that_of_the_permutation_test() -> None:
    """Ticks of the first alone, always, of four setups: C(4,1) orders a trial, 4 · 4⁻³ = 0.0625 and 4 · 4⁻⁴ = 0.016."""
    assert many_setups_power.ticks_power(1.0, 0.0, 4, 3, 0.05).power == 0.0
    assert many_setups_power.ticks_power(1.0, 0.0, 4, 4, 0.05).power == 1.0
    assert comb(4, 1) * 4.0**-3 > 0.05 >= comb(4, 1) * 4.0**-4
    rng, number = np.random.default_rng(10), 80
    ticks = (rng.random((number, 6, 3)) < np.array([0.9, 0.1, 0.1])).astype(float)
    reached = np.mean([permutation_test(e[:, :, None].tolist(), rng).p.value <= 0.01 for e in ticks])
    found = many_setups_power.ticks_power(0.9, 0.1, 3, 6, 0.01)
    assert found.power == pytest.approx(reached, abs=4 * sqrt(0.25 / number + (found.error or 0) ** 2))


def test_beyond_what_is_tested_one_by_one_power_goes_on_without_a_leap() -> None:
    within, beyond = (many_setups_power.ticks_power(0.3, 0.1, 3, trials, 0.005) for trials in (60, 61))
    assert (within.by, beyond.by, beyond.error) == ("simulation", "approximation", None)
    assert beyond.power == pytest.approx(within.power, abs=4 * (within.error or 0))
    near, far = (rated_pairs_power.power(trials, 0.21, 0.05) for trials in (200, 201))
    assert (near.by, far.by, far.error) == ("simulation", "approximation", None)
    assert far.power == pytest.approx(near.power, abs=4 * (near.error or 0))


def test_effects_below_nothing_are_refused() -> None:
    with pytest.raises(StatsError, match="0 or more standard deviations"):
        rated_pairs_power.power(12, -0.1, 0.05)
    with pytest.raises(StatsError, match="0 or more standard deviations"):
        many_setups_power.ratings_power(-0.1, 3, 12, 0.05)
