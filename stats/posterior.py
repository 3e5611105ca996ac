"""The Bayesian reading of one count, beside the exact test: how much is heard, and how strongly that is supported.

The prior is flat and fixed, so that nothing can be tuned to the result; all sums are in logarithms.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from fractions import Fraction
from math import exp, lgamma, log
from typing import Any

from .binomial_tail import log_at_least
from .errors import StatsError
from .validation import check_chance, check_counts, check_level

ONE_SIDED = "every share of trials truly heard, from none to all, is equally likely beforehand (uniform)"
TWO_SIDED = "every proportion of choices of the first, from none to all, is equally likely beforehand (uniform)"
SHARES = (0.1, 0.25, 0.5)
LARGEST = 700.0  # beyond e^700 a Bayes factor is given by its logarithm alone
DIGITS = 12  # that sums of logarithms hold: of what is 1/8 the twelve and a half must not hang on the last bit


@dataclass(frozen=True)
class Above:
    """The posterior probability that the share lies above a value."""

    share: float
    probability: float


@dataclass(frozen=True)
class Posterior:
    """The posterior of the share: of trials truly heard, or, two-sided, of choices of the first.

    ``bayes_factor`` compares the prior with no share at all (two-sided: with one half), above 1 for a difference; None
    where it is beyond 10^304, ``log10_bayes_factor`` is always there.
    """

    correct: int
    trials: int
    chance: float
    two_sided: bool
    prior: str
    mean: float
    level: float
    low: float
    high: float
    above: tuple[Above, ...]
    bayes_factor: float | None
    log10_bayes_factor: float

    def to_document(self) -> dict[str, Any]:
        """The posterior as the command line prints it."""
        return asdict(self)


def posterior(
    correct: int, trials: int, chance: float | Fraction = 0.5, level: float = 0.95, two_sided: bool = False
) -> Posterior:
    """Mean, credible interval, probabilities and Bayes factor under a uniform prior.

    Parameters
    ----------
    correct, trials
        Whole numbers, 0 ≤ correct ≤ trials.
    chance
        The proportion right by guessing, between 0 and 1; ½ if `two_sided`.
    level
        Of the equal-tailed credible interval.
    two_sided
        False: the share pd of trials truly heard is uniform on 0 to 1, so that the proportion right, chance +
        pd·(1 − chance), is uniform from chance to 1. True (a preference): the proportion of choices of the first is
        uniform on 0 to 1, and the Bayes factor is against one half.

    Raises
    ------
    StatsError
        If a number is out of range, or the chance of a two-sided reading is not ½.

    Notes
    -----
    The posterior of the proportion right is a beta(correct + 1, wrong + 1), cut off at chance. The Bayes factor
    is the e-value of the uniform mixture: under guessing it reaches 20 in at most 5 % of sessions, even if one looks
    after every trial (Ville's inequality). The reading supports the planned test and does not replace it.

    Examples
    --------
    >>> found = posterior(12, 16)
    >>> round(found.mean, 2), round(found.low, 2), round(found.high, 2), round(found.bayes_factor, 1)
    (0.46, 0.08, 0.8, 4.1)
    >>> [(one.share, round(one.probability, 2)) for one in found.above]
    [(0.1, 0.96), (0.25, 0.85), (0.5, 0.44)]

    So after 12 of 16 the difference is heard in some 46 % of trials (8 to 80 %), and a difference explains the count
    about four times as well as guessing does.
    """
    check_counts(correct, trials)
    check_chance(chance)
    check_level(level)
    if two_sided and chance != 0.5:
        raise StatsError(f"a two-sided reading is defined for chance 1/2 only; got {chance!r}")
    correct, trials = int(correct), int(trials)
    guessed = float(chance)
    base = 0.0 if two_sided else guessed  # the share counts from here to 1
    wrong = trials - correct
    mean_right = (correct + 1) / (trials + 2) * exp(_log_cut(correct + 1, wrong, base) - _log_cut(correct, wrong, base))
    log_factor = _log_area(correct, wrong, base) - log(1 - base) - correct * log(guessed) - wrong * log(1 - guessed)
    tail = (1 - level) / 2
    return Posterior(
        correct=correct,
        trials=trials,
        chance=guessed,
        two_sided=two_sided,
        prior=TWO_SIDED if two_sided else ONE_SIDED,
        mean=round((mean_right - base) / (1 - base), DIGITS),
        level=level,
        low=_quantile(correct, wrong, base, tail),
        high=_quantile(correct, wrong, base, 1 - tail),
        above=tuple(Above(at, _above(correct, wrong, base, at)) for at in ((0.5,) if two_sided else SHARES)),
        bayes_factor=exp(log_factor) if log_factor < LARGEST else None,
        log10_bayes_factor=log_factor / log(10),
    )


def _above(correct: int, wrong: int, base: float, share: float) -> float:
    at = base + share * (1 - base)
    return 0.0 if at >= 1 else min(1.0, exp(_log_cut(correct, wrong, at) - _log_cut(correct, wrong, base)))


def _quantile(correct: int, wrong: int, base: float, probability: float) -> float:
    low, high = 0.0, 1.0
    while high - low > 1e-12:
        middle = (low + high) / 2
        low, high = (low, middle) if _above(correct, wrong, base, middle) < 1 - probability else (middle, high)
    return (low + high) / 2


def _log_area(correct: int, wrong: int, base: float) -> float:
    """The logarithm of the integral of p^correct (1 − p)^wrong from `base` to 1."""
    whole = lgamma(correct + 1) + lgamma(wrong + 1) - lgamma(correct + wrong + 2)
    return whole + _log_cut(correct, wrong, base)


def _log_cut(correct: int, wrong: int, base: float) -> float:
    """The logarithm of the share of beta(correct + 1, wrong + 1) above `base`.

    That is P(X ≤ correct) for a binomial of one trial more: of wrong + 1 or more wrong ones.
    """
    return 0.0 if base <= 0 else log_at_least(wrong + 1, correct + wrong + 1, 1 - base)
