"""Sensitivity tables: functions tabulated by Hacker and Ratcliff 1979, Kaplan, Macmillan and Creelman 1978, Ennis 1993.

Anchors to 15 digits were read in the tests of a general sensory statistics package; d' for 2-AFC was read to two
decimals in a source citing Macmillan and Creelman's table A5.1; the rest of each column was computed independently from
the formula.
"""

from __future__ import annotations

from math import inf

import pytest

from stats import d_prime
from stats.psychometric import PSYCHOMETRIC_FUNCTIONS
from stats.same_different import same_different

COLUMNS = (
    ("2afc", "independent"),
    ("3afc", "independent"),
    ("4afc", "independent"),
    ("triangle", "differencing"),
    ("duo-trio", "differencing"),
    ("abx", "differencing"),  # the same function as duo-trio
    ("abx", "independent"),
    ("same-different", "independent"),
    ("tetrad", "differencing"),
)
NA = None  # not in the table
FUNCTIONS = {
    0.5: (0.6382, 0.4826, 0.3933, 0.3558, 0.5223, 0.5223, 0.5273, 0.5195, 0.3777),
    1: (0.7602, 0.6337, 0.5520, 0.4180, 0.5825, 0.5825, 0.5997, 0.5733, 0.4938),
    1.5: (0.8556, 0.7658, 0.7019, 0.5065, 0.6635, 0.6635, 0.6944, 0.6495, 0.6409),
    2: (0.9214, 0.8658, 0.8228, 0.6048, 0.7468, 0.7468, 0.7877, 0.7330, 0.7777),
    2.5: (0.9615, 0.9314, 0.9065, 0.6993, 0.8196, 0.8196, 0.8639, 0.8110, 0.8797),
    3: (0.9831, NA, NA, NA, 0.8765, 0.8765, 0.9185, NA, NA),
    4: (0.9977, NA, NA, NA, 0.9467, 0.9467, 0.9750, NA, NA),
}
INVERSES = {
    0.50: (0, 0.5565, 0.8368, 1.4663, 0, 0, 0, 0, NA),
    0.55: (0.1777, 0.7194, 0.9936, 1.7229, 0.7614, 0.7614, 0.6862, 0.8146, NA),
    0.60: (0.3583, 0.8852, 1.1532, 1.9756, 1.1152, 1.1152, 1.0020, 1.1872, NA),
    0.65: (0.5449, 1.0568, 1.3186, 2.2331, 1.4206, 1.4206, 1.2716, 1.5032, NA),
    0.70: (0.7416, 1.2380, 1.4933, 2.5037, 1.7153, 1.7153, 1.5287, 1.8022, NA),
    0.75: (0.9539, 1.4338, 1.6822, 2.7974, 2.0200, 2.0200, 1.7904, 2.1036, NA),
    0.80: (1.1902, 1.6524, 1.8932, 3.1286, 2.3549, 2.3549, 2.0726, 2.4246, 2.0946),
    0.85: (1.4657, 1.9078, 2.1399, 3.5215, 2.7493, 2.7493, 2.3971, 2.7879, NA),
    0.90: (1.8124, 2.2302, 2.4516, 4.0276, 3.2631, 3.2631, 2.8073, 3.2368, NA),
    0.95: (2.3262, 2.7101, 2.9162, 4.8007, 4.0724, 4.0724, 3.4327, 3.8976, NA),
    0.99: (3.2900, 3.6173, 3.7970, 6.3095, 5.7009, 5.7009, 4.6872, 5.1482, NA),
}


@pytest.mark.parametrize("sensitivity", FUNCTIONS)
def test_proportion_right(sensitivity: float) -> None:
    for (method, model), wanted in zip(COLUMNS, FUNCTIONS[sensitivity], strict=True):
        if wanted is not None:
            assert d_prime.proportion_correct(sensitivity, method, model) == pytest.approx(wanted, abs=5.1e-5)


@pytest.mark.parametrize("proportion", INVERSES)
def test_sensitivity(proportion: float) -> None:
    for (method, model), wanted in zip(COLUMNS, INVERSES[proportion], strict=True):
        if wanted is not None:
            assert d_prime.d_prime(proportion, method, model) == pytest.approx(wanted, abs=5.1e-5)


@pytest.mark.parametrize(
    ("sensitivity", "wanted"), [(1, 0.582475444228876), (2, 0.746820245546069), (3, 0.876456704022415)]
)
def test_the_anchors_of_fifteen_digits(sensitivity: float, wanted: float) -> None:
    assert d_prime.proportion_correct(sensitivity, "abx", "differencing") == pytest.approx(wanted, abs=1e-10)


def test_the_slope_behind_the_standard_error() -> None:
    assert d_prime.slope(1, "abx", "differencing") == pytest.approx(0.147618, abs=5e-7)
    share, trials = d_prime.proportion_correct(1, "abx", "differencing"), 40
    wanted = (share * (1 - share) / trials) ** 0.5 / 0.147618
    assert d_prime.standard_error(share, trials, "abx", "differencing") == pytest.approx(wanted, rel=1e-5)


def test_from_hits_and_false_alarms() -> None:
    """H .75, F .30 (inputs read, outputs computed): unbiased share .72556, d' 1.8687 and 1.6610."""
    from statistics import NormalDist

    z = NormalDist().inv_cdf
    share = NormalDist().cdf((z(0.75) - z(0.30)) / 2)
    assert share == pytest.approx(0.72556, abs=5e-6)
    assert d_prime.d_prime(share, "abx", "differencing") == pytest.approx(1.8687, abs=5.1e-5)
    assert d_prime.d_prime(share, "abx", "independent") == pytest.approx(1.6610, abs=5.1e-5)


def test_the_clamp() -> None:
    """At or below chance 0, at 1 infinite (read)."""
    for method, model in COLUMNS:
        chance = PSYCHOMETRIC_FUNCTIONS[method][model].chance
        assert [d_prime.d_prime(p, method, model) for p in (0, 0.2, chance)] == [0, 0, 0]
        assert d_prime.d_prime(1, method, model) == inf


@pytest.mark.parametrize(("method", "wanted"), [("triangle", 0.155989), ("duo-trio", 0.147618), ("3afc", 0.289319)])
def test_slopes_at_one(method: str, wanted: float) -> None:
    """Read, to six decimals."""
    assert d_prime.slope(1, method) == pytest.approx(wanted, abs=5e-7)


@pytest.mark.parametrize("sensitivity", [0.4, 1.7, 2.9])
@pytest.mark.parametrize(
    ("method", "model"), [(method, model) for method, models in PSYCHOMETRIC_FUNCTIONS.items() for model in models]
)
def test_slopes_are_how_fast_the_function_rises(method: str, model: str, sensitivity: float) -> None:
    step = 1e-4
    low, high = (d_prime.proportion_correct(sensitivity + s, method, model) for s in (-step, step))
    assert d_prime.slope(sensitivity, method, model) == pytest.approx((high - low) / (2 * step), rel=1e-6)


def test_a_tetrad_of_ten_in_fifteen() -> None:
    """Read: pc .6667, pd .5000, d' 1.5878, SE .4193; and d' 1.82632 and 2.09460 for pd .6 and .7."""
    assert d_prime.d_prime(10 / 15, "tetrad") == pytest.approx(1.5878, abs=5e-5)
    assert d_prime.standard_error(10 / 15, 15, "tetrad") == pytest.approx(0.4193, abs=5e-5)
    for share, wanted in ((0.6, 1.82632), (0.7, 2.09460)):
        assert d_prime.d_prime(1 / 3 + share * 2 / 3, "tetrad") == pytest.approx(wanted, abs=2e-5)


def test_the_triangle_is_a_non_central_f() -> None:
    """Ennis 1993: P(F' with 1 and 1 degrees of freedom and non-centrality 2d'^2/3 exceeds 3)."""
    from scipy.stats import ncf

    for sensitivity in (0.3, 1, 2.2, 4.5):
        wanted = ncf.sf(3, 1, 1, 2 * sensitivity**2 / 3)
        assert d_prime.proportion_correct(sensitivity, "triangle") == pytest.approx(wanted, abs=1e-9)


class TestSameDifferent:
    def test_from_rates(self) -> None:
        """H .642, F .30 (inputs from memory, outputs computed): differencing 1.9506, k 1.4657; else 1.6327."""
        found = same_different(642, 1000, 300, 1000)
        assert found.d_prime_differencing == pytest.approx(1.9506, abs=5e-5)
        assert found.criterion == pytest.approx(1.4657, abs=5e-5)
        assert found.d_prime == pytest.approx(1.6327, abs=5e-5)

    def test_from_counts(self) -> None:
        """8 same and 5 different said of same pairs, 4 and 9 of different ones (inputs read): 1.2296 and 1.8850."""
        found = same_different(9, 13, 5, 13)
        assert found.criterion == pytest.approx(1.2296, abs=5e-5)
        assert found.d_prime_differencing == pytest.approx(1.8850, abs=5e-5)

    def test_a_perfect_row_is_corrected_by_the_log_linear_rule(self) -> None:
        """50 hits in 50, 5 false alarms in 50: z(H) − z(F) is 3.57 by the log-linear rule (read; Hautus 1995)."""
        from statistics import NormalDist

        z = NormalDist().inv_cdf
        assert z(50.5 / 51) - z(5.5 / 51) == pytest.approx(3.57, abs=5e-3)
        found = same_different(50, 50, 5, 50)
        assert found.corrected
        share = NormalDist().cdf(3.5675 / 2)
        assert found.d_prime == pytest.approx(d_prime.d_prime(share, "same-different"), abs=5e-3)

    def test_fishers_test_of_the_four_counts(self) -> None:
        from scipy.stats import fisher_exact

        wanted = fisher_exact([[9, 4], [5, 8]], alternative="greater").pvalue
        assert same_different(9, 13, 5, 13).fisher_p == pytest.approx(wanted, rel=1e-9)

    def test_rates_are_as_counted(self) -> None:
        found = same_different(9, 13, 5, 13)
        assert (found.hit_rate, found.false_alarm_rate) == (9 / 13, 5 / 13)
        assert found.correct == 17

    @pytest.mark.parametrize("hits", [3, 5])
    def test_as_many_false_alarms_as_hits_are_no_sensitivity(self, hits: int) -> None:
        found = same_different(hits, 13, 5, 13)
        assert (found.d_prime, found.d_prime_differencing) == (0.0, 0.0)
