"""Beta-binomial fits: data sets printed with the methods of Ennis and Bi 1998, Brockhoff 2003 and Bi 2006.

Data and fitted outputs were read in the recorded test output of a general sensory statistics package and refitted
independently; Tarone's and Pearson's statistics and the pooled p-values were computed from their formulas, no print
seen. B7.3 and B7.4 are Tables 7.3 and 7.4 of Bi, Sensory Discrimination Tests and Measurements (2006).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.stats import norm

from stats import beta_binomial
from stats.binomial import binomial_test

D1 = [0, 2, 3, 3, 3, 3, 3, 4, 4, 4, 4, 4, 5, 5, 5, 6, 6, 6, 7, 7, 7, 8, 9, 9]
D2 = [2, 2, 3, 4, 5, 5, 5, 5, 6, 6, 6, 7, 7, 7, 7, 7, 7, 8, 8, 8, 9, 11, 12]
D9 = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
B73 = [0] * 2 + [1] * 6 + [2] * 22
B74 = [0] * 1 + [2] * 4 + [3] * 6 + [4] * 19


@dataclass(frozen=True)
class Row:
    correct: list[int]
    trials: int
    chance: float
    corrected: bool
    mu: float
    gamma: float
    log_likelihood: float
    overdispersion: float
    overdispersion_p: float
    association: float


ROWS = [
    Row(D1, 12, 1 / 3, True, 0.11750, 0.21466, -53.3124, 3.031, 0.08169, 9.7077),
    Row(D2, 12, 1 / 3, True, 0.30008, 0.24407, -52.8263, 8.387, 0.003779, 54.5465),
    Row(D2, 12, 1 / 3, False, 0.53409, 0.09094, -53.2017, 7.6361, 0.005721, 53.7956),
    Row(D9, 4, 1 / 3, False, 0.5, 0.4457, -19.0721, 10.1406, 0.00145, 15.7942),
    Row(B73, 2, 1 / 2, True, 0.66667, 0.70001, -21.8961, 1.9573, 0.1618, 31.0676),
    Row(B74, 4, 1 / 3, True, 0.77598, 0.38055, -31.7292, 7.0221, 0.00805, 144.2856),
]
NAMES = ["D1 corrected", "D2 corrected", "D2", "D9", "Bi 7.3 corrected", "Bi 7.4 corrected"]


@pytest.mark.parametrize("row", ROWS, ids=NAMES)
def test_the_published_fits(row: Row) -> None:
    found = beta_binomial.fit(row.correct, [row.trials] * len(row.correct), row.chance, row.corrected)
    assert (found.mu, found.gamma) == pytest.approx((row.mu, row.gamma), abs=1e-4)
    assert found.log_likelihood == pytest.approx(row.log_likelihood, abs=1e-3)
    assert found.overdispersion == pytest.approx(row.overdispersion, abs=1e-3)
    assert found.association == pytest.approx(row.association, abs=1e-3)
    assert found.overdispersion_p_chi_square == pytest.approx(row.overdispersion_p, abs=1e-4)
    assert found.overdispersion_p == pytest.approx(row.overdispersion_p / 2, abs=5e-5)
    assert found.mu_low < found.mu < found.mu_high


def test_standard_errors_of_d1() -> None:
    found = beta_binomial.fit(D1, [12] * 24, 1 / 3)
    assert found.mu_error == pytest.approx(0.05039, abs=1e-5)
    assert found.gamma_error == pytest.approx(0.15780, abs=1e-5)
    assert found.association_p == pytest.approx(0.007798, abs=5e-6)
    assert found.overdispersion_p == pytest.approx(0.0408, abs=5e-5)


def triangle(sensitivity: float) -> float:
    """The proportion right in a triangle test, by integration (Ennis, J. Sens. Stud. 8, 1993)."""
    shift = sensitivity * sqrt(2 / 3)
    inside = quad(lambda z: (norm.cdf(shift - z * sqrt(3)) + norm.cdf(-shift - z * sqrt(3))) * norm.pdf(z), 0, 10)
    return 2 * inside[0]


def sensitivity(share: float) -> float:
    """d' of the triangle test that gives this share truly heard."""
    return float(brentq(lambda d: triangle(d) - 1 / 3 - 2 / 3 * share, 0, 5))


def test_sensitivities_of_d1_and_d2_follow_from_the_fits() -> None:
    """d' .95852, standard error .22174, and .37086 to 1.34646 from the Wald interval of mu; 1.63857 for D2."""
    found, other = (beta_binomial.fit(data, [12] * len(data), 1 / 3) for data in (D1, D2))
    assert sensitivity(found.mu) == pytest.approx(0.95852, abs=2e-5)
    assert sensitivity(other.mu) == pytest.approx(1.63857, abs=2e-5)
    assert found.mu_error is not None
    at = sensitivity(found.mu)
    slope = (triangle(at + 1e-4) - triangle(at - 1e-4)) / 2e-4
    assert 2 / 3 * found.mu_error / slope == pytest.approx(0.22174, abs=2e-5)
    ends = [sensitivity(found.mu + side * 1.959964 * found.mu_error) for side in (-1, 1)]
    assert ends == pytest.approx([0.37086, 1.34646], abs=1e-4)


# pooled count and its exact p (chance 1/3); Tarone's z and p; Pearson's chi-square, its degrees of freedom and p
OTHERS = {
    "D1": (D1, 12, (117, 288, 0.005714), (2.3519, 0.00934), (39.60, 23, 0.0170)),
    "D2": (D2, 12, (147, 276, 8.01e-12), (3.3391, 0.00042), (44.68, 22, 0.0029)),
    "D9": (D9, 4, (24, 48, 0.012394), (3.7712, 8e-5), (28.0, 11, 0.0032)),
    "B7.3": (B73, 2, (50, 60, None), (1.5336, 0.0626), (38.4, 29, 0.1137)),
}


@pytest.mark.parametrize("name", OTHERS)
def test_the_other_statistics_of_the_same_data(name: str) -> None:
    data, trials, (right, total, p_value), tarone, pearson = OTHERS[name]
    each = [trials] * len(data)
    assert (sum(data), sum(each)) == (right, total)
    if p_value is not None:
        assert binomial_test(right, total, 1 / 3).p_value == pytest.approx(p_value, rel=1e-3)
    z = beta_binomial.tarone(data, each)
    x2 = beta_binomial.pearson(data, each)
    assert z is not None
    assert x2 is not None
    assert z.z == pytest.approx(tarone[0], abs=5e-5)
    assert z.p_value == pytest.approx(tarone[1], abs=5e-6 if name != "B7.3" else 5e-5)
    assert x2.x2 == pytest.approx(pearson[0], abs=5e-3)
    assert x2.df == pearson[1]
    assert x2.p_value == pytest.approx(pearson[2], abs=5.1e-5)


def test_design_effect_of_d2() -> None:
    """1 + 11 x .09094 = 2.0003, so 276 trials say as much as about 138 (computed)."""
    assert beta_binomial.design_effect(0.09094, 12) == pytest.approx(2.0003, abs=5e-5)
