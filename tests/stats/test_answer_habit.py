"""Answers of a habit or below chance: against scipy's binomial, a full count of small multinomials, and guessers."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy.stats import binom

from stats.answer_habit import SMALL, at_least, at_most, habit
from stats.errors import StatsError


@pytest.mark.parametrize(("count", "trials", "chance"), [(0, 18, 1 / 3), (6, 18, 1 / 3), (14, 18, 1 / 3), (9, 48, 0.5)])
def test_the_tails_are_those_of_the_binomial(count: int, trials: int, chance: float) -> None:
    assert at_most(count, trials, chance) == pytest.approx(binom.cdf(count, trials, chance))
    assert at_least(count, trials, chance) == pytest.approx(binom.sf(count - 1, trials, chance))


def test_one_name_is_said_where_so_many_alike_are_rarer_than_the_level_in_a_full_count() -> None:
    """All 3^9 ways to name one of three nine times, each as probable."""
    most = [max(ways.count(place) for place in range(3)) for ways in product(range(3), repeat=9)]
    for count in range(5, 10):
        share = sum(one >= count for one in most) / len(most)
        found = habit(3, [count, 9 - count, 0])
        assert (found == "one name") == (share <= SMALL and count >= 7)


def test_always_wrong_and_always_the_first_are_found_in_the_shortest_run() -> None:
    """(2/3)^18 = 0.0007."""
    assert habit(0, [6, 6, 6]) == "below chance"
    assert habit(1, [6, 6, 6]) is None
    assert habit(5, [0, 18, 0]) == "one name"
    assert habit(18, [6, 6, 6]) is None
    assert habit(30, [30, 9, 9]) is None  # a liking, no habit


@pytest.mark.parametrize("trials", [18, 30, 48])
def test_honest_guessers_are_called_so_less_often_than_both_levels_together(trials: int) -> None:
    """4000 guessers, 0.002 at most: 8; 17 and more come once in 500 tests at that rate (Poisson)."""
    rng = np.random.default_rng(trials)
    named = rng.multinomial(trials, [1 / 3] * 3, 4000)
    right = rng.binomial(trials, 1 / 3, 4000)
    called = sum(habit(int(hits), counts.tolist()) is not None for hits, counts in zip(right, named, strict=True))
    assert called <= 16


def test_counts_that_cannot_be_are_refused() -> None:
    with pytest.raises(StatsError, match="5 cannot be right"):
        habit(5, [1, 1, 2])
