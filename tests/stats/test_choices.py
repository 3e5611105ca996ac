"""Choices against scipy, statsmodels and every possible outcome."""

from __future__ import annotations

import re
from itertools import combinations, product
from math import comb

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import chi2, friedmanchisquare

from stats import bradley_terry, circular_triads, rank_tests, round_robin, round_robin_power
from stats.bradley_terry import Comparison
from stats.errors import StatsError

RNG = np.random.default_rng(4)


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

        ends = np.asarray(wanted.cov_params())[:3, :3]
        np.testing.assert_allclose(np.array(found.covariance)[1:, 1:], ends, rtol=1e-5)
        assert not np.array(found.covariance)[0].any()
        assert not np.array(found.covariance)[:, 0].any()

    def test_the_ratio_tests_compare_nested_fits(self) -> None:
        rows = [Comparison(0, 1, 7, 2), Comparison(1, 0, 4, 5), Comparison(1, 2, 6, 3), Comparison(2, 0, 3, 6)]
        counts = np.array([[row.wins_first, row.wins_second] for row in rows])
        ability = np.array([[-1, 0], [1, 0], [1, -1], [0, 1]])
        first = np.ones((4, 1))

        def deviance(design: np.ndarray) -> float:
            return float(sm.GLM(counts, design, family=sm.families.Binomial()).fit().deviance)

        full = deviance(np.hstack([ability, first]))
        found = bradley_terry.fit(rows, order_effect=True)
        assert found.order_ratio == pytest.approx(deviance(ability) - full, abs=1e-6)
        assert found.equal_ratio == pytest.approx(deviance(first) - full, abs=1e-6)
        assert found.order_p == pytest.approx(chi2.sf(deviance(ability) - full, 1), abs=1e-6)
        assert found.equal_p == pytest.approx(chi2.sf(deviance(first) - full, 2), abs=1e-6)

    def test_the_base_does_not_change_how_two_setups_differ(self) -> None:
        rows = [Comparison(0, 1, 7, 2), Comparison(1, 2, 6, 3), Comparison(2, 0, 3, 6)]
        turned = [Comparison((r.first + 1) % 3, (r.second + 1) % 3, r.wins_first, r.wins_second) for r in rows]
        one, two = bradley_terry.fit(rows), bradley_terry.fit(turned)
        c = np.array(one.covariance)
        assert (c[1, 1] + c[2, 2] - 2 * c[1, 2]) ** 0.5 == pytest.approx(
            (two.covariance[2][2]) ** 0.5
        )  # setups 1 and 2 are 2 and 0 there

    def test_a_document_keeps_its_fields(self) -> None:
        document = bradley_terry.fit([Comparison(0, 1, 3, 2)]).to_document()
        assert set(document) == {
            "abilities",
            "errors",
            "shares",
            "order",
            "order_error",
            "order_p",
            "log_likelihood",
            "deviance",
            "freedom",
            "equal_p",
            "note",
        }

    @pytest.mark.parametrize("won", [6, 3])
    def test_a_pair_without_a_choice_changes_nothing(self, won: int) -> None:
        """Neither the degrees of freedom, nor (where setup 0 always won) the half choices added."""
        rows = [Comparison(0, 1, won, 6 - won), Comparison(1, 2, 5, 4)]
        assert bradley_terry.fit([*rows, Comparison(0, 2, 0, 0)]) == bradley_terry.fit(rows)

    def test_half_a_choice_is_what_is_added(self) -> None:
        rows = [Comparison(0, 1, 6, 0), Comparison(1, 2, 5, 4)]
        padded = [Comparison(0, 1, 6.5, 0.5), Comparison(1, 2, 5.5, 4.5)]
        assert bradley_terry.fit(rows).abilities == bradley_terry.fit(padded).abilities
        assert bradley_terry.fit(padded).note == ""

    def test_a_side_that_always_wins_is_fitted_with_a_note(self) -> None:
        rows = [Comparison(i, j, 4, 0) for i in range(3) for j in range(3) if i != j]
        found = bradley_terry.fit(rows, order_effect=True)
        assert "Half a choice" in found.note
        assert found.shares == pytest.approx([1 / 3] * 3)
        assert found.order == pytest.approx(np.log(4.5 / 0.5))

    @pytest.mark.parametrize(
        ("row", "says"),
        [
            (Comparison(0, 1, float("nan"), 2), "is no count of choices"),
            (Comparison(0, 1, -1, 2), "is no count of choices"),
            (Comparison(0, 1, float("inf"), 2), "is no count of choices"),
            (Comparison(1, 1, 3, 2), "is no count of choices"),
            (Comparison(0, -1, 3, 2), "whole numbers from 0; got -1"),
            (Comparison(0, 1, 10**8, 0), "no abilities can be fitted"),
        ],
    )
    def test_what_is_no_choice_is_refused(self, row: Comparison, says: str) -> None:
        with pytest.raises(StatsError, match=says):
            bradley_terry.fit([row])

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
            (lambda: rank_tests.durbin([[0, 1]] * 2 + [[2, 3]] * 2, [[1, 2]] * 4), "every two treatments must meet"),
            (lambda: rank_tests.durbin([[0, 0], [1, 1]], [[1, 2], [1, 2]]), "once at most"),
            (lambda: rank_tests.durbin([[0, -1], [1, 0]], [[1, 2], [1, 2]]), "whole numbers from 0"),
            (lambda: circular_triads.agreement([[0, 2], [1]]), "must be square"),
            (lambda: circular_triads.agreement([[0, -1], [3, 0]]), "0 or more"),
            (lambda: circular_triads.agreement([[0, 1], [2, 0, 0]]), "must be square"),
            (lambda: round_robin.equality_test({(0, 0): (3, 4), (1, 2): (1, 2)}, RNG), "two different setups"),
            (lambda: round_robin.equality_test({(0, -1): (3, 4), (1, 2): (1, 2)}, RNG), "two different setups"),
            (lambda: round_robin.equality_test({(0, 2): (3, 4), (1, 2): (1, 2)}, RNG, 0), "at least one draw"),
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

    def test_durbin_is_the_share_of_all_orders_nearly(self) -> None:
        """The statistic, against that of the definition; and p against every order of the blocks."""
        blocks = [[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]] * 2
        seen = rank_tests.durbin(blocks, [[2, 1]] * 6 + [[2, 1]] * 5 + [[1, 2]])
        sums = np.zeros((2**12, 4))
        for place, (i, j) in enumerate(blocks):
            up = (np.arange(2**12) >> place) & 1
            sums[:, i] += 1 + up
            sums[:, j] += 2 - up
        # t − 1 times the spread of the rank sums about 6 · 1.5, over A − C = 12 · (5 − 4.5)
        every = 3 * ((sums - 9) ** 2).sum(axis=1) / 6
        assert np.isclose(every, seen.chi_square).any()
        assert np.mean(every >= seen.chi_square - 1e-9) == pytest.approx(seen.p_value, abs=0.02)

    @pytest.mark.parametrize("setups", [8, 10, 11, 13])
    def test_the_chance_of_few_circles_among_many_setups_is_what_simulation_finds(self, setups: int) -> None:
        """Exact up to 10, approximated beyond: within five standard errors, and 0.011 more for the approximation."""
        rng = np.random.default_rng(3)
        over = np.triu(rng.random((20_000, setups, setups)) < 0.5, 1)
        over = over | np.tril(~over.transpose(0, 2, 1), -1)
        every = setups * (setups - 1) * (2 * setups - 1) / 12 - (over.sum(axis=2) ** 2).sum(axis=1) / 2
        slack = 0.0 if setups <= circular_triads.MOST_ENUMERATED else 0.011
        for circles in np.unique(np.quantile(every, [0.02, 0.05, 0.2, 0.5])).astype(int):
            share = float(np.mean(every <= circles))
            within = 5 * (share * (1 - share) / 20_000) ** 0.5 + slack
            assert circular_triads.chance_of_at_most(int(circles), setups) == pytest.approx(share, abs=within)

    def test_beyond_ten_setups_the_approximation_is_near_the_count_of_all_tables(self) -> None:
        counts = circular_triads.distribution(11)
        assert sum(counts) == 2**55
        exact = np.cumsum(counts) / 2**55
        for circles in range(0, len(counts), 3):
            found = circular_triads.chance_of_at_most(circles, 11)
            assert found == pytest.approx(exact[circles], abs=0.011)
        assert circular_triads.chance_of_at_most(len(counts) - 1, 10) == 1  # counted, not approximated

    def test_every_table_of_eight_setups_is_counted(self) -> None:
        counts = circular_triads.distribution(8)
        assert sum(counts) == 2**28
        assert counts[0] == 40_320  # the orders of eight
        assert sum(d * count for d, count in enumerate(counts)) == 14 * 2**28  # C(8, 3)/4 on average


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
        found = round_robin.equality_test(wins, np.random.default_rng(2))
        assert (found.value, found.error) == (pytest.approx(wanted), None)
        numbers = [(pair, 3) for pair in combinations(range(3), 2)]
        drawn = round_robin.drawn_unevenness(3, numbers, [0.5] * 3, np.random.default_rng(2), 100_000)
        assert np.mean(drawn >= apart((3, 3, 2)) - 1e-9) == pytest.approx(wanted, abs=4 * (wanted / 100_000) ** 0.5)

    def test_too_many_outcomes_are_drawn_and_say_so(self) -> None:
        wins = dict.fromkeys(combinations(range(7), 2), (4.0, 8))
        found = round_robin.equality_test(wins, np.random.default_rng(2), draws=99)
        assert (found.value, found.draws, found.error) == (1.0, 99, 0.0)

    def test_power_is_what_simulation_finds(self) -> None:
        rng = np.random.default_rng(6)
        promised = round_robin_power.power(3, 8, 0.75, 0.05)
        reached = []
        for _ in range(300):
            first = {(0, 1): (rng.binomial(8, 0.75), 8), (0, 2): (rng.binomial(8, 0.75), 8)}
            found = round_robin.equality_test(first | {(1, 2): (rng.binomial(8, 0.5), 8)}, rng)
            reached.append(found.value <= 0.05)
        assert np.mean(reached) == pytest.approx(promised.power, abs=4 * 0.5 / 300**0.5)
        assert round_robin_power.power(3, 8, 0.5, 0.05).power <= 0.05

    def test_a_pair_that_was_never_heard_says_nothing(self) -> None:
        heard: dict[tuple[int, int], tuple[float, int]] = {(0, 1): (8, 8), (0, 2): (7, 8)}
        rng = np.random.default_rng
        assert round_robin.equality_test({**heard, (1, 2): (0, 0)}, rng(1)) == round_robin.equality_test(heard, rng(1))

    def test_without_a_favourite_power_is_the_error_rate(self) -> None:
        assert 0.02 < round_robin_power.power(3, 8, 0.5).power <= 0.05

    @pytest.mark.parametrize(("setups", "rounds"), [(2, 8), (3, 0)])
    def test_too_small_a_round_robin_has_no_power(self, setups: int, rounds: int) -> None:
        with pytest.raises(StatsError, match="3 or more setups and 1 or more rounds"):
            round_robin_power.power(setups, rounds, 0.75)

    def test_power_without_a_favourite_is_the_chance_of_all_outcomes_that_reach_alpha(self) -> None:
        """Three setups, eight rounds: every outcome with its probability, and its p against all of them."""
        ways = np.array([comb(8, k) for k in range(9)]) / 2**8
        one, two, three = np.meshgrid(*[np.arange(9) - 4] * 3, indexing="ij")  # leads of 1 over 2, 1 over 3, 2 over 3
        sizes = ((one + two) ** 2 + (three - one) ** 2 + (two + three) ** 2).ravel()
        chances = np.einsum("i,j,k->ijk", ways, ways, ways).ravel()
        p_values = np.array([chances[sizes >= size].sum() for size in sizes])
        assert round_robin_power.power(3, 8, 0.5).power == pytest.approx(chances[p_values <= 0.05].sum())
