"""Replicated trials of several listeners who differ: the beta-binomial, plain and corrected for chance.

Each listener has their own share; the model gives the mean share μ and the spread γ between listeners (0: all alike; 1:
each listener always or never). Corrected for chance, p = chance + (1 − chance)·share with a beta-distributed share
(Brockhoff 2003); plain, p itself is beta-distributed (Ennis and Bi 1998).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .counts import check_chance, check_counts
from .errors import StatsError
from .intervals import Interval

EDGE = 1e-5  # nearer to 0 or 1 the beta functions lose their last figures
ALIKE = 1e-3  # a gain in log-likelihood below it is none


@dataclass(frozen=True)
class Fit:
    """A fitted model.

    Attributes
    ----------
    mean, spread
        μ and γ. Corrected for chance, μ is the mean share of trials truly heard.
    mean_error, spread_error
        Standard errors from the curvature of the likelihood; None at an edge.
    interval
        Of μ, by the profile of the likelihood.
    over_dispersion, over_dispersion_p
        G² against listeners all alike, and its p: half of chi-square with one degree of freedom, since γ = 0 is an
        edge.
    association, association_p
        G² against nobody hearing it, two degrees of freedom.
    """

    mean: float
    spread: float
    mean_error: float | None
    spread_error: float | None
    log_likelihood: float
    interval: Interval
    over_dispersion: float
    over_dispersion_p: float
    association: float
    association_p: float
    corrected: bool

    def to_document(self) -> dict[str, Any]:
        """The fit as plain values."""
        return asdict(self)


def fit(
    correct: Sequence[int], trials: Sequence[int], chance: float | Fraction = 0.5, *, corrected: bool = True
) -> Fit:
    """The maximum-likelihood fit.

    Parameters
    ----------
    correct, trials
        One of each a listener; at least two listeners, and somebody with at least two trials.

    Raises
    ------
    StatsError
        If a count is out of range or there is too little to fit.

    Notes
    -----
    With a = μ(1−γ)/γ and b = (1−μ)(1−γ)/γ. The corrected likelihood is a sum of positive beta integrals, one for each
    number of right answers that may have been heard.
    """
    guess = float(chance)
    check_chance(chance)
    if len(correct) != len(trials) or len(trials) < 2 or max(trials) < 2:
        raise StatsError("a spread between listeners needs at least two of them, and at least two trials each")
    for one, number in zip(correct, trials, strict=True):
        check_counts(one, number)
    x, n = np.asarray(correct), np.asarray(trials)
    base = guess if corrected else 0.0
    likelihood = _log_likelihood(x, n, base)
    mean, spread, best = _climb(likelihood)
    alike, at_chance = _alike(x, n, base), _binomial(x, n, guess)
    if alike > best - ALIKE:
        mean, spread, best = _pooled_share(x, n, base), 0.0, alike
    over = max(0.0, 2 * (best - alike))
    association = max(0.0, 2 * (best - at_chance))
    from scipy.stats import chi2

    mean_error, spread_error = _errors(likelihood, mean, spread)
    return Fit(
        mean,
        spread,
        mean_error,
        spread_error,
        best,
        _profile(likelihood, mean, best),
        over,
        float(chi2.sf(over, 1)) / 2 if over > 0 else 1.0,
        association,
        float(chi2.sf(association, 2)),
        corrected,
    )


def tarone(correct: Sequence[int], trials: Sequence[int]) -> tuple[float, float]:
    """Tarone's Z for listeners who differ, and its one-sided p; Z is 0 where all or none were right.

    Z = (S − Σn) / √(2Σn(n−1)) with S = Σ(x − np)² / (p(1−p)) and p the pooled share (Tarone 1979).
    """
    from scipy.stats import norm

    x, n = np.asarray(correct, float), np.asarray(trials, float)
    share = float(x.sum() / n.sum())
    if share in (0.0, 1.0) or not (n > 1).any():
        return 0.0, 0.5
    s = float(((x - n * share) ** 2).sum()) / (share * (1 - share))
    z = (s - float(n.sum())) / float(np.sqrt(2 * (n * (n - 1)).sum()))
    return z, float(norm.sf(z))


def pearson(correct: Sequence[int], trials: Sequence[int]) -> tuple[float, int, float]:
    """Pearson's X² that all listeners have one share: statistic, degrees of freedom, p."""
    from scipy.stats import chi2

    x, n = np.asarray(correct, float), np.asarray(trials, float)
    share = float(x.sum() / n.sum())
    if share in (0.0, 1.0):
        return 0.0, len(x) - 1, 1.0
    value = float(((x - n * share) ** 2 / (n * share * (1 - share))).sum())
    return value, len(x) - 1, float(chi2.sf(value, len(x) - 1))


def design_effect(spread: float, trials: float) -> float:
    """By how much listeners who differ shrink what replicated trials are worth: 1 + (trials − 1)·γ.

    >>> round(design_effect(0.09094, 12), 4)
    2.0003

    So twelve trials each by listeners who differ that much are worth six by listeners all alike.
    """
    return 1 + (trials - 1) * spread


def _log_likelihood(x: NDArray[Any], n: NDArray[Any], base: float) -> Callable[[float, float], float]:
    """The log-likelihood as a function of mean and spread; listeners with the same counts are taken together."""
    from scipy.special import betaln, gammaln

    pairs, times = np.unique(np.stack([x, n]), axis=1, return_counts=True)
    right, wrong = pairs[0][:, None], (pairs[1] - pairs[0])[:, None]
    fixed = gammaln(right + wrong + 1) - gammaln(right + 1) - gammaln(wrong + 1)
    if base == 0:
        k, parts = right, fixed
    else:
        # (base + (1 − base) s)^x ((1 − base)(1 − s))^(n − x) is a sum of x + 1 beta integrals, all positive
        k = np.minimum(np.arange(right.max() + 1)[None, :], right)
        parts = (
            fixed + wrong * np.log1p(-base) + gammaln(right + 1) - gammaln(k + 1) - gammaln(right - k + 1)
            + (right - k) * np.log(base) + k * np.log1p(-base)
        )  # fmt: skip
        parts = np.where(np.arange(right.max() + 1)[None, :] <= right, parts, -np.inf)

    def likelihood(mean: float, spread: float) -> float:
        mean, spread = min(max(mean, EDGE), 1 - EDGE), min(max(spread, EDGE), 1 - EDGE)
        a, b = mean * (1 - spread) / spread, (1 - mean) * (1 - spread) / spread
        terms = parts + betaln(a + k, b + wrong) - betaln(a, b)
        top = terms.max(axis=1)
        return float(times @ (top + np.log(np.exp(terms - top[:, None]).sum(axis=1))))

    return likelihood


def _alike(x: NDArray[Any], n: NDArray[Any], base: float) -> float:
    share = float(x.sum() / n.sum())
    return _binomial(x, n, max(share, base))


def _pooled_share(x: NDArray[Any], n: NDArray[Any], base: float) -> float:
    return max(0.0, (float(x.sum() / n.sum()) - base) / (1 - base))


def _binomial(x: NDArray[Any], n: NDArray[Any], share: float) -> float:
    from scipy.stats import binom

    return float(binom.logpmf(x, n, share).sum())


def _climb(likelihood: Any) -> tuple[float, float, float]:
    from scipy.optimize import minimize

    def downhill(point: NDArray[np.float64]) -> float:
        return -likelihood(*_inside(point))

    best = None
    for mean, spread in ((0.2, 0.2), (0.6, 0.2), (0.6, 0.7)):
        start = np.log(np.array([mean, spread]) / (1 - np.array([mean, spread])))
        found = minimize(
            downhill, start, method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-10, "maxiter": 2000}
        )
        if best is None or found.fun < best.fun:
            best = found
    assert best is not None
    mean, spread = _inside(best.x)
    return mean, spread, -float(best.fun)


def _inside(point: NDArray[np.float64]) -> tuple[float, float]:
    """From any two numbers to a mean and a spread between 0 and 1."""
    bounded = 1 / (1 + np.exp(-np.clip(point, -13.8, 13.8)))
    return float(bounded[0]), float(bounded[1])


def _errors(likelihood: Any, mean: float, spread: float) -> tuple[float | None, float | None]:
    step = 1e-4
    if not (10 * step < mean < 1 - 10 * step and 10 * step < spread < 1 - 10 * step):
        return None, None
    here = likelihood(mean, spread)

    def at(i: int, j: int) -> float:
        return float(likelihood(mean + i * step, spread + j * step))

    second = (
        np.array(
            [
                [at(1, 0) - 2 * here + at(-1, 0), (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / 4],
                [(at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / 4, at(0, 1) - 2 * here + at(0, -1)],
            ]
        )
        / step**2
    )
    try:
        covariance = np.linalg.inv(-second)
    except np.linalg.LinAlgError:
        return None, None
    if (np.diag(covariance) <= 0).any():
        return None, None
    return float(np.sqrt(covariance[0, 0])), float(np.sqrt(covariance[1, 1]))


def _profile(likelihood: Any, mean: float, best: float, level: float = 0.95) -> Interval:
    """All means whose best likelihood over the spread is not much below the best of all."""
    from scipy.optimize import minimize_scalar
    from scipy.stats import chi2

    drop = float(chi2.ppf(level, 1)) / 2

    def inside(candidate: float) -> bool:
        found = minimize_scalar(lambda s: -likelihood(candidate, s), bounds=(EDGE, 1 - EDGE), method="bounded")
        return best + float(found.fun) <= drop

    def edge(outside: float) -> float:
        if inside(outside):
            return outside
        low, high = mean, outside
        for _ in range(24):
            middle = (low + high) / 2
            low, high = (middle, high) if inside(middle) else (low, middle)
        return low

    return Interval(level, edge(0.0), edge(1.0), "profile likelihood")
