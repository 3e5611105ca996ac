"""What a ballot can find: against plain enumeration of every outcome, and drawn ballots judged by Holm's correction."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, multinomial

from stats.ballot_power import ballot_power, least_differing, pairs_needed, what_can_be_found
from stats.errors import StatsError
from stats.holm import holm
from stats.paired_ticks import paired_ticks


def enumerated(first_only: float, second_only: float, pairs: int, alpha: float) -> float:
    """Every outcome's probability where its exact two-sided p is at most alpha, by scipy alone."""
    outcomes = np.array([(b, c, pairs - b - c) for b in range(pairs + 1) for c in range(pairs + 1 - b)])
    fewer, differing = outcomes[:, :2].min(axis=1), outcomes[:, 0] + outcomes[:, 1]
    p_values = np.minimum(1, 2 * binom.cdf(fewer, differing, 0.5))
    chances = multinomial.pmf(outcomes, pairs, [first_only, second_only, max(0, 1 - first_only - second_only)])
    return float(chances[p_values <= alpha * (1 + 1e-12)].sum())


@pytest.mark.parametrize(
    ("first_only", "alone", "of_twenty"), [(0.6, 22, 39), (0.5, 30, 54), (0.4, 46, 82), (0.3, 84, 151)]
)
def test_pairs_needed_are_those_of_the_enumeration(first_only: float, alone: int, of_twenty: int) -> None:
    for pairs, words in [(alone, 1), (of_twenty, 20)]:
        now, before = (enumerated(first_only, 0.1, number, 0.05 / words) for number in (pairs, pairs - 1))
        assert before < 0.8 <= now
        assert ballot_power(first_only, 0.1, pairs, words) == pytest.approx(now, abs=1e-9)
        assert pairs_needed(first_only, 0.1, words) == pairs


@pytest.mark.parametrize("rates", [(0.0, 0.0), (1.0, 0.0), (0.9, 0.1), (0.2, 0.2), (0.05, 0.5)])
def test_power_is_that_of_the_enumeration_at_its_edges(rates: tuple[float, float]) -> None:
    for pairs, words in [(1, 1), (6, 1), (9, 10), (24, 8)]:
        assert ballot_power(*rates, pairs, words) == pytest.approx(enumerated(*rates, pairs, 0.05 / words), abs=1e-9)


def test_the_least_that_can_pass_is_the_first_whose_p_reaches_the_first_step_of_holm() -> None:
    for words in (1, 2, 8, 10, 12, 20, 40):
        least = least_differing(words)
        others = [1.0] * (words - 1)
        assert holm([paired_ticks(least, 0, 60).p_value, *others])[0] <= 0.05
        assert holm([paired_ticks(least - 1, 0, 60).p_value, *others])[0] > 0.05


def test_the_smallest_rate_is_found_with_the_power_wanted_and_a_smaller_one_is_not() -> None:
    for pairs, words in [(24, 10), (40, 8), (60, 12)]:
        found = what_can_be_found(pairs, words)
        assert enumerated(found.smallest_rate, 0.1, pairs, 0.05 / words) >= 0.8
        assert enumerated(found.smallest_rate - 0.002, 0.1, pairs, 0.05 / words) < 0.8
        assert found.smallest_difference == pytest.approx(found.smallest_rate - 0.1)


def test_what_no_rate_can_show_is_said_so() -> None:
    assert what_can_be_found(8, 10).smallest_rate is None
    assert what_can_be_found(8, 10).smallest_difference is None
    for reverse_rate in (0.5, 0.8, 1):  # the other way round is no effect of the first
        assert what_can_be_found(100, 10, reverse_rate=reverse_rate).smallest_rate is None
    assert what_can_be_found(9, 10, reverse_rate=0).smallest_rate == pytest.approx(0.8 ** (1 / 9), abs=2e-4)


def test_a_word_among_others_that_say_nothing_is_found_as_often_as_foretold_or_more() -> None:
    """Drawn: one true word and seven that nobody can tell, judged together."""
    rng, ballots, pairs = np.random.default_rng(3), 1500, 24
    ways = rng.multinomial(pairs, [0.75, 0.1, 0.15], size=ballots)[:, :2]
    noise = rng.multinomial(pairs, [0.25, 0.25, 0.5], size=(ballots, 7))[..., :2]
    counts = np.concatenate([ways[:, None], noise], axis=1)
    p_values = np.minimum(1, 2 * binom.cdf(counts.min(axis=2), counts.sum(axis=2), 0.5))
    found = np.mean([holm(row)[0] <= 0.05 for row in p_values.tolist()])
    foretold = ballot_power(0.75, 0.1, pairs, 8)
    error = (foretold * (1 - foretold) / ballots) ** 0.5
    assert foretold - 4 * error <= found <= foretold + 0.05


def test_too_many_pairs_are_none_and_rates_that_do_not_fit_are_refused() -> None:
    assert pairs_needed(0.2, 0.2) is None
    with pytest.raises(StatsError, match="at most 1 together"):
        ballot_power(0.7, 0.4, 20)
    with pytest.raises(StatsError, match="from 0 to 1"):
        ballot_power(1.2, 0, 20)
    with pytest.raises(StatsError, match="whole number"):
        ballot_power(0.5, 0.1, 0)
