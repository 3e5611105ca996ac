"""Several listeners with several trials each: how much they hear on average, and how much they differ (beta-binomial).

Plain counts in; scipy is loaded by the functions that need it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from math import sqrt
from typing import Any, NamedTuple

from .errors import StatsError
from .validation import check_chance, check_counts, check_level, check_proportion, check_trials

SAME = 1e-8  # log-likelihoods closer than this are the same: the simpler of the two models is taken


@dataclass(frozen=True)
class Fit:
    """What was fitted. Standard errors are None where an estimate lies on the edge of its range."""

    listeners: int
    chance: float
    corrected: bool
    mu: float
    gamma: float
    mu_error: float | None
    gamma_error: float | None
    level: float
    mu_low: float
    mu_high: float
    log_likelihood: float
    overdispersion: float
    overdispersion_p: float
    overdispersion_p_chi_square: float
    association: float
    association_p: float

    def to_document(self) -> dict[str, Any]:
        """The fit as the command line prints it."""
        return asdict(self)


class Statistic(NamedTuple):
    """Tarone's z and its one-sided p-value: more spread between listeners than chance makes."""

    z: float
    p_value: float


class ChiSquare(NamedTuple):
    """Pearson's statistic, its degrees of freedom and its p-value."""

    x2: float
    df: int
    p_value: float


def fit(
    correct: Sequence[int],
    trials: Sequence[int],
    chance: float | Fraction = 0.5,
    corrected: bool = True,
    level: float = 0.95,
) -> Fit:
    """The mean share and the spread between listeners by maximum likelihood, with the tests of both.

    Parameters
    ----------
    correct, trials
        One whole number a listener, at least two listeners; the numbers of trials may differ.
    chance
        The proportion right by guessing, between 0 and 1.
    corrected
        True: `mu` is the mean share of trials truly heard (each listener's proportion right is chance + (1 − chance)
        times a beta variable, so nobody is below chance). False: `mu` is the mean proportion right itself.
    level
        Of the profile-likelihood interval of `mu`.

    Raises
    ------
    StatsError
        If a number is out of range, or there are fewer than two listeners.

    Notes
    -----
    Beta(a, b) with a = μ(1−γ)/γ, b = (1−μ)(1−γ)/γ: γ is 0 when all listeners are alike and 1 when each hears either all
    or nothing. Uncorrected: Ennis and Bi, J. Sens. Stud. 13 (1998); corrected: Brockhoff, Food Qual. Pref. 14 (2003).
    The corrected likelihood is a sum over how many of the right answers were guessed; its terms are all positive.

    ``overdispersion`` is G² = 2(l − l of the binomial at its best). γ = 0 is on the edge, so `overdispersion_p` is that
    of the half-and-half mixture of a point at 0 and chi-square with 1 degree of freedom (Self and Liang, JASA 82,
    1987); `overdispersion_p_chi_square` is the conservative one without it. ``association`` is G² against chance, its p
    from chi-square with 2 degrees of freedom; for few listeners or trials use the exact pooled test (`panel`), which
    keeps its level with replicated trials, since at chance listeners cannot differ.

    The log-likelihood has the binomial coefficients in it. At μ = 0 or 1 listeners cannot differ: γ is given as 0.
    Where an estimate lies on an edge there are no standard errors; the interval of μ remains.

    Examples
    --------
    Bi, Sensory Discrimination Tests and Measurements (2006), Table 7.3: 30 judges, two trials each, chance ½.

    >>> found = fit([0] * 2 + [1] * 6 + [2] * 22, [2] * 30)
    >>> round(found.mu, 3), round(found.gamma, 3), round(found.overdispersion_p, 3)
    (0.667, 0.7, 0.081)
    >>> round(found.mu_low, 2), round(found.mu_high, 2)
    (0.42, 0.84)

    So on average two thirds of the trials were truly heard (42 to 84 %); that listeners differ is not shown.
    """
    from scipy.optimize import brentq
    from scipy.special import chdtrc, chdtri

    from .beta_binomial_likelihood import Likelihood

    _check(correct, trials)
    check_chance(chance)
    check_level(level)
    likelihood = Likelihood(correct, trials, float(chance), corrected)
    mu, gamma, best = likelihood.maximum()
    share = sum(correct) / sum(trials)
    binomial_mu = min(1.0, max(0.0, (share - float(chance)) / (1 - float(chance)))) if corrected else share
    binomial = likelihood.value(binomial_mu, 0.0)
    for edge_mu, edge_gamma in ((mu, 1.0), (0.0, 0.0), (1.0, 0.0), (binomial_mu, 0.0)):
        value = likelihood.value(edge_mu, edge_gamma)
        if value >= best - SAME:
            mu, gamma, best = edge_mu, edge_gamma, max(best, value)
    limit = best - float(chdtri(1, 1 - level)) / 2

    def above(at: float) -> float:
        return likelihood.profile(at) - limit

    low = 0.0 if mu == 0 or above(0.0) >= 0 else brentq(above, 0.0, mu, xtol=1e-5)
    high = 1.0 if mu == 1 or above(1.0) >= 0 else brentq(above, mu, 1.0, xtol=1e-5)
    errors = likelihood.standard_errors(mu, gamma)
    spread = max(0.0, 2 * (best - binomial))
    no_sense = likelihood.value(0.0 if corrected else float(chance), 0.0)
    apart = max(0.0, 2 * (best - no_sense))
    tail = float(chdtrc(1, spread))
    return Fit(
        listeners=len(correct),
        chance=float(chance),
        corrected=corrected,
        mu=mu,
        gamma=gamma,
        mu_error=errors[0],
        gamma_error=errors[1],
        level=level,
        mu_low=float(low),
        mu_high=float(high),
        log_likelihood=best,
        overdispersion=spread,
        overdispersion_p=tail / 2 if spread > 2 * SAME else 1.0,
        overdispersion_p_chi_square=tail,
        association=apart,
        association_p=float(chdtrc(2, apart)),
    )


def tarone(correct: Sequence[int], trials: Sequence[int]) -> Statistic | None:
    """Tarone's z for more spread between listeners than one common proportion makes, and its one-sided p-value.

    None where there is nothing to compare: every answer right, every answer wrong, or one trial each.

    Notes
    -----
    z = (S − Σn)/√(2Σn(n−1)), S = Σ(x − np)²/(p(1−p)) with the pooled p (Tarone, Biometrika 66, 1979); approximately
    normal for many listeners.

    Examples
    --------
    >>> found = tarone([0] * 2 + [1] * 6 + [2] * 22, [2] * 30)
    >>> round(found.z, 3), round(found.p_value, 3)
    (1.534, 0.063)
    """
    from statistics import NormalDist

    _check(correct, trials)
    pooled = sum(correct) / sum(trials)
    pairs = sum(n * (n - 1) for n in trials)
    if pooled in (0, 1) or not pairs:
        return None
    spread = sum((x - n * pooled) ** 2 for x, n in zip(correct, trials, strict=True)) / (pooled * (1 - pooled))
    z = (spread - sum(trials)) / sqrt(2 * pairs)
    return Statistic(z, NormalDist().cdf(-z))


def pearson(correct: Sequence[int], trials: Sequence[int]) -> ChiSquare | None:
    """Pearson's chi-square for one common proportion; None where every answer was right, or every one wrong.

    Examples
    --------
    >>> found = pearson([0] * 2 + [1] * 6 + [2] * 22, [2] * 30)
    >>> round(found.x2, 1), found.df, round(found.p_value, 4)
    (38.4, 29, 0.1137)
    """
    from scipy.special import chdtrc

    _check(correct, trials)
    pooled = sum(correct) / sum(trials)
    if pooled in (0, 1):
        return None
    scale = pooled * (1 - pooled)
    x2 = sum((x - n * pooled) ** 2 / (n * scale) for x, n in zip(correct, trials, strict=True))
    return ChiSquare(x2, len(correct) - 1, float(chdtrc(len(correct) - 1, x2)))


def design_effect(gamma: float, trials: float) -> float:
    """How many trials of one listener carry the information of one trial of a new listener: 1 + (n − 1)γ.

    `gamma` is that of the uncorrected model, `trials` the number (or the mean number) of trials a listener, 1 or more.

    Examples
    --------
    >>> round(276 / design_effect(0.09094, 12))
    138

    So these 276 trials, twelve a listener, say as much as 138 trials of 138 listeners.
    """
    check_proportion(gamma)
    if isinstance(trials, bool) or not trials >= 1:
        raise StatsError(f"the trials a listener are 1 or more; got {trials!r}")
    return 1 + (trials - 1) * gamma


def _check(correct: Sequence[int], trials: Sequence[int]) -> None:
    if len(correct) != len(trials):
        raise StatsError(f"each listener has a count and a number of trials; got {len(correct)} and {len(trials)}")
    if len(correct) < 2:
        raise StatsError(f"a spread between listeners needs at least two of them; got {len(correct)}")
    for x, n in zip(correct, trials, strict=True):
        check_trials(n)
        check_counts(x, n)
