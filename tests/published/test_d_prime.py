"""Sensitivity tables: the functions tabulated by Hacker and Ratcliff 1979 and Kaplan, Macmillan and Creelman 1978.

Anchors to 15 digits were read in the tests of a general sensory statistics package; d' for 2-AFC was read to two
decimals in a source citing Macmillan and Creelman's table A5.1; the rest of each column was computed independently from
the formula.
"""

from __future__ import annotations

from math import inf

import pytest

from stats import d_prime

# d': 2-AFC, ABX by differencing (the same function as duo-trio), ABX by independent observations
FUNCTIONS = {
    0.5: (0.6382, 0.5223, 0.5273),
    1: (0.7602, 0.5825, 0.5997),
    1.5: (0.8556, 0.6635, 0.6944),
    2: (0.9214, 0.7468, 0.7877),
    2.5: (0.9615, 0.8196, 0.8639),
    3: (0.9831, 0.8765, 0.9185),
    4: (0.9977, 0.9467, 0.9750),
}
INVERSES = {
    0.50: (0, 0, 0),
    0.55: (0.1777, 0.7614, 0.6862),
    0.60: (0.3583, 1.1152, 1.0020),
    0.65: (0.5449, 1.4206, 1.2716),
    0.70: (0.7416, 1.7153, 1.5287),
    0.75: (0.9539, 2.0200, 1.7904),
    0.80: (1.1902, 2.3549, 2.0726),
    0.85: (1.4657, 2.7493, 2.3971),
    0.90: (1.8124, 3.2631, 2.8073),
    0.95: (2.3262, 4.0724, 3.4327),
    0.99: (3.2900, 5.7009, 4.6872),
}
COLUMNS = (("2afc", "independent"), ("abx", "differencing"), ("abx", "independent"))


@pytest.mark.parametrize("sensitivity", FUNCTIONS)
def test_proportion_right(sensitivity: float) -> None:
    for (method, model), wanted in zip(COLUMNS, FUNCTIONS[sensitivity], strict=True):
        assert d_prime.proportion_correct(sensitivity, method, model) == pytest.approx(wanted, abs=5.1e-5)


@pytest.mark.parametrize("proportion", INVERSES)
def test_sensitivity(proportion: float) -> None:
    for (method, model), wanted in zip(COLUMNS, INVERSES[proportion], strict=True):
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
        assert [d_prime.d_prime(p, method, model) for p in (0, 0.3, 0.5)] == [0, 0, 0]
        assert d_prime.d_prime(1, method, model) == inf
