"""Words of blind ballots: against scipy, statsmodels, every arrangement, and pure guessers."""

from __future__ import annotations

from functools import cache
from itertools import permutations, product
from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest, fisher_exact
from statsmodels.stats.contingency_tables import cochrans_q, mcnemar

from stats import permuted_labels
from stats.cochran_q import cochran_q
from stats.errors import StatsError
from stats.flip_rate import flip_rate, flips_compared
from stats.holm import holm
from stats.paired_ticks import PairedTicks, paired_ticks
from stats.permuted_labels import permutation_test

outcomes = st.tuples(st.integers(0, 60), st.integers(0, 60), st.integers(0, 60)).filter(lambda three: sum(three) > 0)


@settings(max_examples=50, deadline=None)
@given(outcomes, st.sampled_from([0.9, 0.95, 0.99]))
def test_the_exact_test_of_pairs_is_statsmodels_and_its_share_scipys(
    counts: tuple[int, int, int], level: float
) -> None:
    first_only, second_only, alike = counts
    found = paired_ticks(first_only, second_only, sum(counts), level)
    expected = mcnemar([[alike, first_only], [second_only, 0]], exact=True).pvalue
    assert found.p_value == pytest.approx(min(1, expected), rel=1e-9)
    if not first_only + second_only:
        assert found.share is None
        return
    ends = binomtest(first_only, first_only + second_only).proportion_ci(level)
    assert (found.share.low, found.share.high) == pytest.approx((ends.low, ends.high), abs=1e-9)
    assert (found.p_value <= 1 - level) == (not found.share.low <= 0.5 <= found.share.high)
    assert found.interval.low <= found.difference <= found.interval.high
    if found.p_value > 1 - level:
        assert found.interval.low <= 0 <= found.interval.high


def test_mid_p_takes_half_of_what_is_as_likely_as_what_was_seen() -> None:
    for differing in range(1, 13):
        chances = [comb(differing, count) / 2**differing for count in range(differing + 1)]
        for count in range(differing + 1):
            below = sum(chance for chance in chances if chance < chances[count] * (1 - 1e-12))
            same = sum(chance for chance in chances if abs(chance - chances[count]) <= 1e-12 * chance)
            found = paired_ticks(count, differing - count, 30)
            assert found.mid_p == pytest.approx(below + same / 2, abs=1e-12)
            assert found.p_value == pytest.approx(below + same, abs=1e-12)


@cache
def ticks_of(first_only: int, second_only: int, pairs: int) -> PairedTicks:
    return paired_ticks(first_only, second_only, pairs)


@pytest.mark.parametrize("pairs", [5, 14])
def test_the_interval_of_the_difference_covers_it_with_at_least_its_level(pairs: int) -> None:
    """Exact: over every outcome of so many pairs, for rates from 0 to 1."""
    rates = [(one / 10, other / 10) for one in range(11) for other in range(11 - one)]
    coverages = []
    for one, other in rates:
        covered = 0.0
        for first_only, second_only in product(range(pairs + 1), repeat=2):
            alike = pairs - first_only - second_only
            if alike < 0:
                continue
            interval = ticks_of(first_only, second_only, pairs).interval
            if interval.low - 1e-12 <= one - other <= interval.high + 1e-12:
                ways = comb(pairs, first_only) * comb(pairs - first_only, second_only)
                covered += ways * one**first_only * other**second_only * max(0.0, 1 - one - other) ** alike
        coverages.append(covered)
    assert min(coverages) >= 0.95
    assert min(coverages) < 0.995  # it is no interval of everything


@pytest.mark.parametrize(("first_only", "second_only", "pairs"), [(9, 1, 24), (3, 5, 12), (0, 7, 7), (4, 4, 40)])
def test_the_interval_of_the_difference_errs_by_a_fifth_in_how_many_differ_and_by_the_rest_in_which_way(
    first_only: int, second_only: int, pairs: int
) -> None:
    """By the corners of both of scipy's intervals: 99 % of how many, 96 % of which way."""
    differing = first_only + second_only
    rates = binomtest(differing, pairs).proportion_ci(0.99)
    shares = binomtest(first_only, differing).proportion_ci(0.96)
    corners = [rate * (2 * share - 1) for rate in rates for share in shares]
    found = paired_ticks(first_only, second_only, pairs).interval
    assert (found.low, found.high) == pytest.approx((min(corners), max(corners)), abs=1e-9)


@pytest.mark.parametrize("counts", [(-1, 0, 5), (3, 3, 5), (1.0, 0, 5), (0, 0, 0), (True, 0, 5)])
def test_counts_of_pairs_that_do_not_fit_are_refused(counts: tuple[int, int, int]) -> None:
    with pytest.raises(StatsError, match=r"whole number|more than the 5 pairs"):
        paired_ticks(*counts)


@settings(max_examples=40, deadline=None)
@given(st.integers(2, 4).flatmap(lambda k: st.lists(st.lists(st.integers(0, 1), min_size=k, max_size=k), min_size=2)))
def test_cochrans_q_is_statsmodels(rows: list[list[int]]) -> None:
    if all(len(set(row)) == 1 for row in rows):
        with pytest.raises(StatsError, match="nothing tells"):
            cochran_q(rows, np.random.default_rng(1))
        return
    found, expected = cochran_q(rows, np.random.default_rng(1), draws=1), cochrans_q(np.array(rows))
    assert found.q == pytest.approx(expected.statistic, abs=1e-9)
    assert found.p_value == pytest.approx(expected.pvalue, rel=1e-9)


def test_blocks_ticked_throughout_or_empty_change_nothing() -> None:
    rows = [[1, 0, 1], [0, 0, 1], [0, 1, 1], [0, 0, 1], [0, 1, 0]]
    rng = np.random.default_rng(1)
    with_them = cochran_q([*rows, [1, 1, 1], [0, 0, 0]], rng)
    assert cochran_q(rows, rng).q == pytest.approx(with_them.q)
    assert with_them.blocks == 5
    assert with_them.permutation == cochran_q(rows, rng).permutation


@pytest.mark.parametrize(
    ("rows", "says"), [([[1, 2]], "a tick is 1"), ([[1], [0]], "two or more"), ([], "at least one")]
)
def test_ticks_that_are_none_are_refused(rows: list[list[int]], says: str) -> None:
    with pytest.raises(StatsError, match=says):
        cochran_q(rows, np.random.default_rng(1))


BLOCKS = [  # uneven: repetitions, a setup left out, ratings, a block alike throughout
    [[3, 4], [1], [0]],
    [[2], [2, 0], [1]],
    [[5], [3], []],
    [[2, 2], [2], [2]],
]


def plain_p(blocks: list[list[list[float]]]) -> float:
    """By every order of every block's answers, written as the definition says."""
    number = [sum(len(block[setup]) for block in blocks) for setup in range(len(blocks[0]))]

    def apart(arranged: list[list[list[float]]]) -> float:
        total = 0.0
        for setup in range(len(number)):
            away = 0.0
            for block in arranged:
                every = [value for answers in block for value in answers]
                away += sum(value - sum(every) / len(every) for value in block[setup])
            total += away**2 / number[setup]
        return total

    def orders(block: list[list[float]]) -> list[list[list[float]]]:
        sizes = np.cumsum([len(answers) for answers in block])[:-1]
        every = [value for answers in block for value in answers]
        return [[list(part) for part in np.split(np.array(order), sizes)] for order in permutations(every)]

    seen = apart(blocks)
    found = [apart(list(arranged)) >= seen - 1e-9 for arranged in product(*map(orders, blocks))]
    return sum(found) / len(found)


def test_the_exact_p_is_that_of_every_order() -> None:
    found = permutation_test(BLOCKS[:3], np.random.default_rng(1))
    assert found.p.draws is None
    assert found.p.value == pytest.approx(plain_p(BLOCKS[:3]), abs=1e-12)
    assert found.means == pytest.approx((14 / 4, 6 / 4, 1 / 2))


def test_a_block_alike_throughout_counts_for_means_alone() -> None:
    found, without = (permutation_test(blocks, np.random.default_rng(1)) for blocks in (BLOCKS, BLOCKS[:3]))
    assert (found.blocks, without.blocks) == (3, 3)
    assert found.means[0] == pytest.approx(18 / 6)


def test_drawn_exchanges_agree_with_all_of_them(monkeypatch: pytest.MonkeyPatch) -> None:
    blocks = [[[1, 0], [0]], [[1], [0, 0]], [[1, 1], [0]], [[0], [1, 0]], [[1], [0]]]
    exact = permutation_test(blocks, np.random.default_rng(1)).p
    monkeypatch.setattr(permuted_labels, "MOST_STEPS", 0)
    monkeypatch.setattr(permuted_labels, "MOST_AT_ONCE", 3000)
    drawn = permutation_test(blocks, np.random.default_rng(2), draws=4000).p
    assert (exact.draws, drawn.draws) == (None, 4000)
    assert drawn.value == pytest.approx(exact.value, abs=4 * drawn.error)
    assert permutation_test([[[1], [0]]] * 40, np.random.default_rng(1), draws=99).p.value == 0.01  # never 0
    alike = [[[1], [0]], [[0], [1]]] * 20
    assert (
        permutation_test(alike, np.random.default_rng(1), draws=1000).p.value == 1
    )  # every draw counts, in each batch


@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 1), st.integers(0, 1)), min_size=1, max_size=40))
def test_exchanging_pairs_of_ticks_is_the_sign_test(pairs: list[tuple[int, int]]) -> None:
    found = permutation_test([[[one], [other]] for one, other in pairs], np.random.default_rng(1))
    first_only, second_only = sum(one > other for one, other in pairs), sum(one < other for one, other in pairs)
    assert found.p.value == pytest.approx(paired_ticks(first_only, second_only, len(pairs)).p_value, abs=1e-9)
    assert found.blocks == first_only + second_only


@pytest.mark.parametrize(
    ("blocks", "says"),
    [
        ([], "at least one block"),
        ([[[1], [0]], [[1]]], "the same two or more"),
        ([[[1], []]], "setup 2 has no answer"),
        ([[[1], [0]], [[], []]], "a block has no answers"),
        ([[[1], [float("nan")]]], "must be a number"),
    ],
)
def test_blocks_that_do_not_fit_are_refused(blocks: list[list[list[float]]], says: str) -> None:
    with pytest.raises(StatsError, match=says):
        permutation_test(blocks, np.random.default_rng(1))


def test_no_draws_are_refused() -> None:
    with pytest.raises(StatsError, match="at least one draw"):
        permutation_test([[[1], [0]]], np.random.default_rng(1), draws=0)


@settings(max_examples=50, deadline=None)
@given(st.integers(1, 40).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.integers(1, 20), st.data())
def test_flips_compared_is_scipys_one_sided_fisher(real: tuple[int, int], same: int, data: st.DataObject) -> None:
    flips = data.draw(st.integers(0, same))
    found = flips_compared(*real, flips, same)
    table = [[real[0], real[1] - real[0]], [flips, same - flips]]
    assert found.p_value == pytest.approx(fisher_exact(table, alternative="greater").pvalue, rel=1e-9)
    most = min(real[1], real[0] + flips)
    extreme = [[most, real[1] - most], [real[0] + flips - most, same - (real[0] + flips - most)]]
    assert found.least_p == pytest.approx(fisher_exact(extreme, alternative="greater").pvalue, rel=1e-9)
    assert 0 < found.mid_p < found.p_value <= 1


def test_a_word_that_flips_of_itself_is_not_found_more_often_than_alpha_however_often_it_flips() -> None:
    """Exact: the real pairs are a random 18 of 24, the word flips on the same ones whichever they are."""
    for flips in range(25):
        found = 0.0
        for real in range(max(0, flips - 6), min(18, flips) + 1):
            chance = comb(18, real) * comb(6, flips - real) / comb(24, flips)
            found += chance * (flips_compared(real, 18, flips - real, 6).p_value <= 0.05)
        assert found <= 0.05


def test_a_flip_rate_has_scipys_exact_interval() -> None:
    ends = binomtest(2, 11).proportion_ci(0.95)
    found = flip_rate(2, 11)
    assert (found.rate, found.interval.low, found.interval.high) == pytest.approx((2 / 11, ends.low, ends.high))
    with pytest.raises(StatsError, match="whole number"):
        flips_compared(1, 5, 0, 0)


def guessers_p_values(ballots: int, words: int, pairs: int) -> np.ndarray:
    """P-values of ballots by guessers, who tick each word with its own rate, some together; shape (ballots, words)."""
    rng = np.random.default_rng(20)
    rates = np.linspace(0.25, 0.75, words)
    noise = rng.random((2, ballots, pairs, words))
    noise[..., 1] = noise[..., 0]  # two words that are ticked together
    one, other = noise < rates
    first_only, second_only = (one & ~other).sum(axis=1), (other & ~one).sum(axis=1)
    seen, place = np.unique(np.stack([first_only, second_only], axis=-1).reshape(-1, 2), axis=0, return_inverse=True)
    p_values = np.array([paired_ticks(int(b), int(c), pairs).p_value for b, c in seen])
    return p_values[place.ravel()].reshape(ballots, words)


def test_guessers_pass_no_word_of_ten_more_often_than_alpha() -> None:
    p_values = guessers_p_values(4000, 10, 24)
    passed = np.mean([min(holm(row)) <= 0.05 for row in p_values.tolist()])
    uncorrected = np.mean(p_values.min(axis=1) <= 0.05)
    error = np.sqrt(0.05 * 0.95 / 4000)
    assert passed <= 0.05 + 3 * error
    assert passed > 0.005  # some do pass: the ballot is not deaf
    assert uncorrected > 0.15  # without the correction many a guesser would have found a word
