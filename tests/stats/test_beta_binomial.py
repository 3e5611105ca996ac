"""The beta-binomial against numerical integration, scipy's own, a plain grid, and laws of its edges."""

from __future__ import annotations

from cProfile import Profile
from math import comb, exp

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import approx_fprime
from scipy.special import betaln, expit, log_expit
from scipy.stats import betabinom, chi2, norm
from statsmodels.stats.proportion import proportions_chisquare

from stats import beta_binomial
from stats.beta_binomial_likelihood import Likelihood
from stats.errors import StatsError

panels = st.lists(
    st.integers(1, 25).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), min_size=2, max_size=12
)
inside = st.floats(0.02, 0.98)


@settings(max_examples=25)
@given(st.integers(1, 15).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), inside, inside)
def test_the_corrected_likelihood_is_the_integral_over_the_beta(
    count: tuple[int, int], mu: float, gamma: float
) -> None:
    (x, n), chance = count, 1 / 3
    a, b = mu * (1 - gamma) / gamma, (1 - mu) * (1 - gamma) / gamma

    # by the double exponential rule (Takahasi and Mori): the beta's variable is the logistic function of sinh(v)
    v, step = np.linspace(-14, 14, 2241, retstep=True)
    odds = np.sinh(v)
    p = chance + (1 - chance) * expit(odds)
    beta_times_slope = np.exp(a * log_expit(odds) + b * log_expit(-odds) - betaln(a, b)) * np.cosh(v)
    wanted = float(np.sum(beta_times_slope * comb(n, x) * p**x * ((1 - chance) * expit(-odds)) ** (n - x)) * step)
    ours = Likelihood([x, x], [n, n], chance, True).value(mu, gamma) / 2
    assert exp(ours) == pytest.approx(wanted, rel=1e-8)


@given(panels, inside, inside)
def test_the_plain_likelihood_is_scipys(panel: list[tuple[int, int]], mu: float, gamma: float) -> None:
    x, n = zip(*panel, strict=True)
    a, b = mu * (1 - gamma) / gamma, (1 - mu) * (1 - gamma) / gamma
    wanted = betabinom.logpmf(x, n, a, b).sum()
    assert Likelihood(x, n, 0.5, False).value(mu, gamma) == pytest.approx(wanted, rel=1e-8, abs=1e-8)


@settings(max_examples=50)
@given(panels, inside, inside, st.booleans())
def test_the_slopes_are_those_of_the_likelihood(
    panel: list[tuple[int, int]], mu: float, gamma: float, corrected: bool
) -> None:
    x, n = zip(*panel, strict=True)
    likelihood = Likelihood(x, n, 0.5, corrected)
    wanted = approx_fprime(np.array([mu, gamma]), lambda at: likelihood.value(*at), 1e-7)
    value, by_mu, by_gamma = likelihood.slopes(mu, gamma)
    assert value == likelihood.value(mu, gamma)
    assert (by_mu, by_gamma) == pytest.approx(tuple(wanted), rel=1e-3, abs=1e-3)


@settings(max_examples=40)
@given(panels, st.booleans(), st.sampled_from([0.5, 1 / 3]))
def test_no_point_of_a_fine_grid_is_likelier_than_the_fit(
    panel: list[tuple[int, int]], corrected: bool, chance: float
) -> None:
    x, n = zip(*panel, strict=True)
    found = beta_binomial.fit(x, n, chance, corrected)
    mu, gamma = (grid.ravel() for grid in np.meshgrid(np.linspace(0, 1, 61), np.linspace(0, 1, 61) ** 2))
    assert Likelihood(x, n, chance, corrected).values(mu, gamma).max() <= found.log_likelihood + 1e-7
    assert 0 <= found.mu_low <= found.mu <= found.mu_high <= 1
    assert found.overdispersion_p <= found.overdispersion_p_chi_square
    assert min(found.overdispersion, found.association) >= 0


def test_the_interval_ends_where_the_profile_has_fallen_by_half_the_quantile() -> None:
    x, n = [3, 9, 8, 4, 10, 6, 7, 2], [10, 12, 8, 9, 11, 10, 10, 7]
    found = beta_binomial.fit(x, n, 0.5, corrected=False, level=0.9)
    gamma = np.linspace(0, 1, 20_001)
    a, b = ((share * (1 - gamma[1:-1]) / gamma[1:-1])[:, None] for share in (found.mu_low, 1 - found.mu_low))
    profile = betabinom.logpmf(x, n, a, b).sum(axis=1).max()
    assert 2 * (found.log_likelihood - profile) == pytest.approx(chi2.ppf(0.9, 1), abs=1e-3)
    wider = beta_binomial.fit(x, n, 0.5, corrected=False)
    assert wider.mu_low < found.mu_low < found.mu_high < wider.mu_high


EDGES = {
    "all at chance": ([10] * 25, 0.0, 0.0),
    "all right": ([20] * 25, 1.0, 0.0),
    "all wrong": ([0] * 25, 0.0, 0.0),
    "five hear all, the rest nothing": ([20] * 5 + [10] * 20, 0.2, 1.0),
}


@pytest.mark.parametrize("name", EDGES)
def test_edges_are_found_and_have_no_standard_error(name: str) -> None:
    x, mu, gamma = EDGES[name]
    found = beta_binomial.fit(x, [20] * 25, 0.5)
    assert (found.mu, found.gamma) == pytest.approx((mu, gamma), abs=1e-5)
    assert found.mu_error is None
    assert found.gamma_error is None
    if gamma == 0:
        assert (found.overdispersion, found.overdispersion_p, found.overdispersion_p_chi_square) == (0, 1, 1)


def test_all_right_bounds_the_share_by_the_number_of_listeners_not_of_trials() -> None:
    """With γ free, k listeners all right say only that a share μ of listeners hears all: μ^k at the limit."""
    found = beta_binomial.fit([20] * 25, [20] * 25, 0.5, corrected=False)
    assert found.mu_low == pytest.approx(exp(-chi2.ppf(0.95, 1) / 2 / 25), abs=1e-4)
    assert found.mu_high == 1


def test_one_trial_a_listener_tells_nothing_of_their_spread() -> None:
    found = beta_binomial.fit([1, 0, 1, 1], [1] * 4, 0.5, corrected=False)
    assert (found.mu, found.gamma) == pytest.approx((0.75, 0.0))
    assert found.overdispersion_p == 1
    assert beta_binomial.tarone([1, 0, 1, 1], [1] * 4) is None


def test_a_simulated_panel_gives_back_its_mean_and_spread() -> None:
    """400 listeners, 30 trials, μ .4, γ .2, chance ½; within four of its own standard errors."""
    rng = np.random.default_rng(7)
    share = 0.5 + 0.5 * rng.beta(0.4 * 0.8 / 0.2, 0.6 * 0.8 / 0.2, 400)
    found = beta_binomial.fit(rng.binomial(30, share).tolist(), [30] * 400, 0.5)
    assert found.mu_error is not None
    assert found.gamma_error is not None
    assert found.mu_error < 0.03
    assert found.mu == pytest.approx(0.4, abs=4 * found.mu_error)
    assert found.gamma == pytest.approx(0.2, abs=4 * found.gamma_error)


def test_a_usual_panel_is_fitted_in_few_calls() -> None:
    """So that one can wait for it: 0.1 s where these calls were counted, and their number is the same everywhere."""
    rng = np.random.default_rng(8)
    x = rng.binomial(20, rng.beta(3, 2, 25)).tolist()
    beta_binomial.fit(x, [20] * 25)  # loads scipy
    profile = Profile()
    profile.runcall(beta_binomial.fit, x, [20] * 25)
    assert sum(each.callcount for each in profile.getstats()) < 50_000


@given(panels)
def test_pearsons_statistic_is_statsmodels(panel: list[tuple[int, int]]) -> None:
    x, n = zip(*panel, strict=True)
    found = beta_binomial.pearson(x, n)
    if sum(x) in (0, sum(n)):
        assert found is None
        return
    wanted, p_value, _ = proportions_chisquare(np.array(x), np.array(n))
    assert found is not None
    assert (found.x2, found.p_value) == pytest.approx((wanted, p_value), abs=1e-9)


def test_tarones_z_is_normal_when_all_listeners_are_alike() -> None:
    """2000 panels of 60 alike; the share beyond 1.645 within four Monte-Carlo errors and .01 of its asymptotics."""
    rng = np.random.default_rng(9)
    found = [beta_binomial.tarone(row, [16] * 60) for row in rng.binomial(16, 0.7, (2000, 60)).tolist()]
    beyond = np.mean([statistic is not None and statistic.z > norm.ppf(0.95) for statistic in found])
    assert beyond == pytest.approx(0.05, abs=4 * (0.05 * 0.95 / 2000) ** 0.5 + 0.01)


def test_the_design_effect_is_the_variance_of_a_listeners_count_over_the_binomials() -> None:
    mu, gamma, n = 0.6, 0.15, 9
    a, b = mu * (1 - gamma) / gamma, (1 - mu) * (1 - gamma) / gamma
    wanted = betabinom.var(n, a, b) / (n * mu * (1 - mu))
    assert beta_binomial.design_effect(gamma, n) == pytest.approx(wanted)
    assert beta_binomial.design_effect(gamma, 1) == 1


def test_the_document_is_the_fit() -> None:
    found = beta_binomial.fit([3, 5], [6, 6])
    assert found.to_document()["mu"] == found.mu
    assert found.to_document()["listeners"] == 2


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: beta_binomial.fit([3], [6]), "at least two of them; got 1"),
        (lambda: beta_binomial.fit([3, 4], [6]), "got 2 and 1"),
        (lambda: beta_binomial.fit([7, 4], [6, 6]), "from 0 to the 6 trials; got 7"),
        (lambda: beta_binomial.fit([3, 4], [6, 6], 1.0), "chance must lie between 0 and 1"),
        (lambda: beta_binomial.tarone([3], [6]), "at least two"),
        (lambda: beta_binomial.design_effect(1.2, 6), "from 0 to 1; got 1.2"),
        (lambda: beta_binomial.design_effect(0.2, 0), "1 or more; got 0"),
    ],
)
def test_what_is_out_of_range_is_refused(call: object, says: str) -> None:
    assert callable(call)
    with pytest.raises(StatsError, match=says):
        call()
