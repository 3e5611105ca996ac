"""The posterior against numerical integration, scipy's truncated beta, the e-values, and exact fractions."""

from __future__ import annotations

from fractions import Fraction
from math import comb, log10

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import beta, binom

from stats import posterior
from stats.errors import StatsError

counts = st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
chances = st.sampled_from([0.5, 1 / 3, 0.25])


def area(low: float, high: float, correct: int, trials: int, chance: float, power: int = 0) -> float:
    """The integral of share^power times the likelihood over the likelihood at chance, by quadrature."""

    def at(share: float) -> float:
        p = chance + share * (1 - chance)
        ratio = (p / chance) ** correct * ((1 - p) / (1 - chance)) ** (trials - correct)
        return float(share**power * ratio)

    peak = min(max((correct / trials - chance) / (1 - chance), low), high)
    return sum(quad(at, *ends, limit=200)[0] for ends in ((low, peak), (peak, high)))


@settings(max_examples=60)
@given(counts, chances)
def test_everything_is_what_quadrature_gives(count: tuple[int, int], chance: float) -> None:
    correct, trials = count
    found = posterior.posterior(correct, trials, chance)
    whole = area(0, 1, correct, trials, chance)
    assert found.bayes_factor == pytest.approx(whole, rel=1e-6)
    assert found.log10_bayes_factor == pytest.approx(log10(whole), abs=1e-6)
    assert found.mean == pytest.approx(area(0, 1, correct, trials, chance, power=1) / whole, rel=1e-6)
    assert [one.share for one in found.above] == [0.1, 0.25, 0.5]
    for one in found.above:
        above = area(one.share, 1, correct, trials, chance) / whole
        assert one.probability == pytest.approx(above, rel=1e-6, abs=1e-9)
    for end, beyond in ((found.low, 0.975), (found.high, 0.025)):
        assert area(end, 1, correct, trials, chance) / whole == pytest.approx(beyond, abs=1e-6)


@given(counts, st.sampled_from([0.5, 0.9, 0.95]))
def test_two_sided_it_is_the_plain_beta(count: tuple[int, int], level: float) -> None:
    correct, trials = count
    found = posterior.posterior(correct, trials, level=level, two_sided=True)
    wanted = beta(correct + 1, trials - correct + 1)
    assert (found.low, found.high) == pytest.approx(wanted.interval(level), abs=1e-8)
    assert found.mean == pytest.approx(wanted.mean())
    assert [(one.share, one.probability) for one in found.above] == [(0.5, pytest.approx(wanted.sf(0.5)))]
    assert found.bayes_factor == pytest.approx(2**trials / ((trials + 1) * comb(trials, correct)))
    mirrored = posterior.posterior(trials - correct, trials, level=level, two_sided=True)
    assert (mirrored.low, mirrored.high) == pytest.approx((1 - found.high, 1 - found.low), abs=1e-8)


# computed: the e-values of the uniform mixture, over 0 to 1 and over 1/2 to 1, at chance 1/2
E_VALUES = [
    (6, 6, 9.1429, 18.1429),
    (7, 7, 16.0, 31.875),
    (8, 8, 28.4444, 56.7778),
    (9, 10, 9.3091, 18.5091),
    (12, 16, 2.1182, 4.1324),
    (13, 16, 6.8840, 13.6805),
    (14, 16, 32.1255, 64.1755),
]


@pytest.mark.parametrize(("correct", "trials", "both", "one"), E_VALUES)
def test_the_bayes_factor_is_the_e_value_of_the_uniform_mixture(
    correct: int, trials: int, both: float, one: float
) -> None:
    assert posterior.posterior(correct, trials).bayes_factor == pytest.approx(one, abs=5.1e-5)
    assert posterior.posterior(correct, trials, two_sided=True).bayes_factor == pytest.approx(both, abs=5.1e-5)


@pytest.mark.parametrize("chance", [0.5, 1 / 3])
@pytest.mark.parametrize("trials", [1, 12, 40])
def test_under_guessing_the_bayes_factor_is_one_on_average(trials: int, chance: float) -> None:
    factors = [posterior.posterior(x, trials, chance).bayes_factor for x in range(trials + 1)]
    weights = binom.pmf(np.arange(trials + 1), trials, chance)
    assert weights @ np.array(factors) == pytest.approx(1, rel=1e-9)


@pytest.mark.parametrize(("correct", "trials"), [(0, 2000), (300, 2000), (1000, 2000), (1100, 2000), (2000, 2000)])
@pytest.mark.parametrize("chance", [Fraction(1, 2), Fraction(1, 3)])
def test_two_thousand_trials_are_as_right_as_exact_fractions(correct: int, trials: int, chance: Fraction) -> None:
    """The area above chance is P(X <= correct) of one trial more, over (trials + 1) times the ways; in fractions."""
    top, rest, n = chance.numerator, chance.denominator - chance.numerator, trials + 1
    below = sum(comb(n, k) * top**k * rest ** (n - k) for k in range(correct + 1))
    # area / ((1 - chance) chance^correct (1 - chance)^wrong), all over the same power of the denominator
    factor = Fraction(below, n * comb(trials, correct) * top**correct * rest ** (trials - correct) * rest)
    wanted = (len(bin(factor.numerator)) - len(bin(factor.denominator))) * log10(2)  # within one binary digit
    found = posterior.posterior(correct, trials, chance)
    assert found.log10_bayes_factor == pytest.approx(wanted, abs=0.31)
    if abs(wanted) < 300:
        assert found.bayes_factor == pytest.approx(float(factor), rel=1e-8)
    assert 0 <= found.low < found.high <= 1
    assert found.low < found.mean < found.high
    assert (found.bayes_factor is None) == (found.log10_bayes_factor > 304)


def test_a_count_far_below_chance_still_has_a_proper_posterior() -> None:
    """0 of 2000: the posterior falls as (1 - share)^2000, whose mean and quantiles are those of a beta(1, 2001)."""
    found = posterior.posterior(0, 2000)
    wanted = beta(1, 2001)
    assert found.mean == pytest.approx(wanted.mean(), rel=1e-6)
    assert (found.low, found.high) == pytest.approx(wanted.interval(0.95), rel=1e-5)


def test_the_prior_is_said_in_words() -> None:
    document = posterior.posterior(3, 4).to_document()
    assert document["prior"].startswith("every share of trials truly heard")
    assert posterior.posterior(3, 4, two_sided=True).prior.startswith("every proportion of choices of the first")
    assert document["above"][0]["share"] == 0.1


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: posterior.posterior(5, 4), "from 0 to the 4 trials"),
        (lambda: posterior.posterior(3, 4, 0.0), "chance must lie"),
        (lambda: posterior.posterior(3, 4, level=1), "confidence level must lie"),
        (lambda: posterior.posterior(3, 4, 1 / 3, two_sided=True), "chance 1/2 only"),
    ],
)
def test_what_is_out_of_range_is_refused(call: object, says: str) -> None:
    assert callable(call)
    with pytest.raises(StatsError, match=says):
        call()
