"""Very many listeners, and votes on one key: against SciPy, against brute force, and whatever habits voters share."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy.stats import beta, binomtest

from stats import crowd
from stats.errors import StatsError
from stats.shared_key import shared_key


@pytest.mark.parametrize(("correct", "trials"), [(12, 16), (401_500, 800_000), (399_000, 800_000), (150_001, 300_000)])
@pytest.mark.parametrize("two_sided", [False, True])
def test_the_pooled_test_is_scipys_for_small_counts_and_very_large_ones(
    correct: int, trials: int, two_sided: bool
) -> None:
    found = crowd.pooled(correct, trials, two_sided=two_sided)
    wanted = binomtest(correct, trials, 0.5, alternative="two-sided" if two_sided else "greater")
    assert found.p_value == pytest.approx(wanted.pvalue, rel=1e-8)
    ends = beta.ppf(0.025, correct, trials - correct + 1), beta.ppf(0.975, correct + 1, trials - correct)
    assert (found.interval.low, found.interval.high) == pytest.approx(ends, rel=1e-9)


@pytest.mark.parametrize(("share", "rate"), [(0.3, 1.0), (0.5, 0.6), (0.05, 1.0)])
def test_a_planted_share_of_hearers_is_recovered_and_never_overstated(share: float, rate: float) -> None:
    rng = np.random.default_rng(5)
    for _ in range(4):
        hears = rng.random(2000) < share
        right = rng.binomial(8, np.where(hears, 0.5 + rate / 2, 0.5))
        found = crowd.crowd(dict(enumerate(map(int, np.bincount(right, minlength=9)))), 8)
        assert found.spread is not None
        assert found.spread.mu == pytest.approx(share * rate, abs=0.04)
        assert found.spread.overdispersion_p < 0.05 or share * rate < 0.1
        assert sum(found.by_guessing) == pytest.approx(2000)
        assert found.hearers / 2000 > 0.5 * share * rate  # how often it is too many: the next test


@pytest.mark.parametrize(("listeners", "hear", "rate"), [(30, 0, 0), (30, 5, 1.0), (400, 40, 1.0), (400, 200, 0.3)])
def test_the_least_number_of_hearers_lies_too_high_no_more_often_than_alpha(
    listeners: int, hear: int, rate: float
) -> None:
    """The count of hearers who hear every trial is what the bound is sharpest for: there about alpha is reached."""
    rng = np.random.default_rng(7)
    runs = 600
    right = rng.binomial(8 * hear, 0.5 + rate / 2, runs) + rng.binomial(8 * (listeners - hear), 0.5, runs)
    above = np.mean([crowd.least_hearers(int(one), listeners, 8) > hear for one in right])
    assert above <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / runs)
    assert above > 0.015 or rate < 1


def test_votes_are_judged_by_all_keys_and_by_nothing_else() -> None:
    rng = np.random.default_rng(1)
    for two_sided in (False, True):
        for _ in range(10):
            votes = [tuple(map(int, pair)) for pair in rng.integers(0, 60, (6, 2))]
            seen = sum(right - wrong for right, wrong in votes)
            each = [
                sum(sign * (a - b) for sign, (a, b) in zip(key, votes, strict=True))
                for key in product((1, -1), repeat=6)
            ]
            far = [abs(one) >= abs(seen) if two_sided else one >= seen for one in each]
            found = shared_key([(a, b) for a, b in votes], two_sided=two_sided)
            assert found.p_value == pytest.approx(np.mean(far))


def test_a_shared_habit_of_all_voters_is_found_no_more_often_than_alpha() -> None:
    """A thousand voters who all like A: by the binomial test half of all keys would "show" it."""
    by_key, as_if_independent = [], []
    for key in product((0, 1), repeat=6):
        votes = [(700, 300) if place == 0 else (300, 700) for place in key]  # right where X is A
        found = shared_key(votes)
        by_key.append(found.p_value <= 0.05)
        as_if_independent.append(crowd.pooled(found.right, found.votes).p_value <= 0.05)
    assert np.mean(by_key) <= 0.05
    assert np.mean(as_if_independent) > 0.3


def test_what_is_no_count_is_refused() -> None:
    with pytest.raises(StatsError, match="1 to 20 trials; got 21"):
        shared_key([(1, 0)] * 21)
    with pytest.raises(StatsError, match="with one at least"):
        shared_key([(0, 0)] * 4)
    with pytest.raises(StatsError, match="there is one at least"):
        crowd.crowd({}, 8)
    with pytest.raises(StatsError, match="0 to 8 right"):
        crowd.crowd({9: 1}, 8)
    with pytest.raises(StatsError, match="got 200001"):
        crowd.pooled(200_001, 200_000)
