"""A Bayesian reading beside the exact one: the posterior of the share that is truly heard, its prior stated."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from math import exp
from typing import Any

from .counts import check_chance, check_counts, check_level
from .intervals import Interval

SOME = 0.1  # a share of trials truly heard that is worth a word; our choice
ONE_SIDED = "every share truly heard, from none to all, equally likely beforehand"
TWO_SIDED = "every proportion for the first, from 0 to 1, equally likely beforehand"


@dataclass(frozen=True)
class Posterior:
    """What the answers make of the prior.

    Attributes
    ----------
    mean, interval
        Of the share truly heard (of the proportion for the first, two-sided): mean, and equal-tailed credible interval.
    above
        The probability that the share is above 0.1 (two-sided: that the proportion is above ½).
    bayes_factor
        How much likelier the answers are under this prior than by chance alone.
    prior
        In words.
    """

    mean: float
    interval: Interval
    above: float
    bayes_factor: float
    prior: str

    def to_document(self) -> dict[str, Any]:
        """The reading as plain values."""
        return asdict(self)


def posterior(
    correct: int, trials: int, chance: float = 0.5, level: float = 0.95, *, two_sided: bool = False
) -> Posterior:
    """The posterior after `correct` right answers (choices of the first) in `trials`.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    With p = chance + share·(1 − chance) and a uniform share the posterior of p is a beta distribution of parameters
    correct + 1 and wrong + 1 cut off below chance. The Bayes factor is B(s+1, n−s+1)·P(p > chance) / ((1 − chance)
    chance^s (1 − chance)^(n−s)).

    Examples
    --------
    >>> found = posterior(12, 16)
    >>> round(found.mean, 2), round(found.interval.low, 2), round(found.interval.high, 2), round(found.bayes_factor, 2)
    (0.46, 0.08, 0.8, 4.13)

    So with this prior it is heard in about half of the trials, 4 times likelier than not at all: not much to go by.
    """
    from scipy.special import betainc, betaincc, betaln, xlog1py, xlogy

    check_counts(correct, trials)
    check_chance(chance)
    check_level(level)
    a, b = correct + 1, trials - correct + 1
    at_chance = xlogy(correct, chance) + xlog1py(trials - correct, -chance)
    if two_sided:
        low, high = (_beta_quantile(a, b, tail, 0.0) for tail in ((1 - level) / 2, (1 + level) / 2))
        return Posterior(
            a / (a + b),
            Interval(level, low, high, "credible"),
            float(betaincc(a, b, 0.5)),
            exp(min(float(betaln(a, b) - at_chance), 700.0)),
            TWO_SIDED,
        )
    kept = float(betaincc(a, b, chance))
    if kept < 1e-300:  # far below chance: all the mass lies at chance itself
        return Posterior(0.0, Interval(level, 0.0, 0.0, "credible"), 0.0, 0.0, ONE_SIDED)
    # E[p; p > chance] of a beta: a/(a+b) times the tail of the beta with one more success
    mean = a / (a + b) * float(betaincc(a + 1, b, chance)) / kept
    ends = [_beta_quantile(a, b, tail, float(betainc(a, b, chance))) for tail in ((1 - level) / 2, (1 + level) / 2)]
    low, high = (_share(end, chance) for end in ends)
    factor = float(betaln(a, b) - at_chance) + _log(kept) - _log(1 - chance)
    return Posterior(
        _share(mean, chance),
        Interval(level, low, high, "credible"),
        float(betaincc(a, b, chance + SOME * (1 - chance))) / kept,
        exp(min(factor, 700.0)),
        ONE_SIDED,
    )


def _beta_quantile(a: int, b: int, tail: float, cut: float) -> float:
    """The quantile of a beta cut off below the point with `cut` of its mass under it."""
    from scipy.special import betaincinv

    return float(betaincinv(a, b, cut + tail * (1 - cut)))


def _share(p: float, chance: float) -> float:
    return min(1.0, max(0.0, (p - chance) / (1 - chance)))


def _log(value: float) -> float:
    from math import log

    return log(value)
