"""Same-different: hits and false alarms, sensitivity under two listener models, and bias."""

from __future__ import annotations

from dataclasses import dataclass
from math import comb, sqrt
from statistics import NormalDist
from typing import Any

from .validation import check_counts

_NORMAL = NormalDist()
LARGEST = 60.0


@dataclass(frozen=True)
class SameDifferent:
    """What the four counts come to.

    Attributes
    ----------
    hit_rate, false_alarm_rate
        Shares of "different" among the different and among the same trials, as counted.
    d_prime, d_prime_differencing
        Of a listener who judges each stimulus by itself, and of one who judges the difference.
    criterion
        The difference beyond which "different" is said, in standard deviations of one stimulus.
    bias
        −(z(H) + z(F))/2: above 0 the listener leans to "same", below to "different".
    corrected
        Whether a rate of 0 or 1 made the log-linear rule necessary (Hautus 1995).
    fisher_p
        One-sided exact p of the four counts with both margins fixed: beside the planned test, not instead of it.
    """

    hits: int
    different_trials: int
    false_alarms: int
    same_trials: int
    hit_rate: float
    false_alarm_rate: float
    d_prime: float
    d_prime_differencing: float
    criterion: float
    bias: float
    corrected: bool
    fisher_p: float

    @property
    def correct(self) -> int:
        """Right answers: hits, and same trials called same."""
        return self.hits + self.same_trials - self.false_alarms

    def to_document(self) -> dict[str, Any]:
        """The result as the command line prints it."""
        return {name: getattr(self, name) for name in self.__dataclass_fields__} | {"correct": self.correct}


def same_different(hits: int, different_trials: int, false_alarms: int, same_trials: int) -> SameDifferent:
    """Sensitivity and bias from the four counts.

    Parameters
    ----------
    hits
        "Different" said in the `different_trials`.
    false_alarms
        "Different" said in the `same_trials`.

    Raises
    ------
    StatsError
        If a count is not whole, negative, or larger than its trials; or there are no trials of one kind.

    Notes
    -----
    Differencing: F = 2Φ(−k/√2), H = Φ((d′−k)/√2) + Φ((−d′−k)/√2). Independent observations, for the unbiased share
    p = Φ((z(H) − z(F))/2): d′ = 2z{½[1 + √(2p−1)]} (Macmillan and Creelman, ch. 9). 0 where F ≥ H. With a rate of 0 or
    1 half a count is added to each cell (the log-linear rule, Hautus 1995) for d′ and bias; the rates are as counted.

    Examples
    --------
    9 of 13 different trials called different, and 5 of 13 same ones:

    >>> found = same_different(9, 13, 5, 13)
    >>> round(found.d_prime_differencing, 3), round(found.criterion, 4), found.correct
    (1.885, 1.2296, 17)

    So a difference of nearly two standard deviations, called when it exceeds 1.2 of them.
    """
    check_counts(hits, different_trials)
    check_counts(false_alarms, same_trials)
    corrected = hits in (0, different_trials) or false_alarms in (0, same_trials)
    extra, base = (0.5, 1) if corrected else (0, 0)
    hit = (hits + extra) / (different_trials + base)
    alarm = (false_alarms + extra) / (same_trials + base)
    z_hit, z_alarm = _NORMAL.inv_cdf(hit), _NORMAL.inv_cdf(alarm)
    criterion = -sqrt(2) * _NORMAL.inv_cdf(alarm / 2)
    return SameDifferent(
        hits=hits,
        different_trials=different_trials,
        false_alarms=false_alarms,
        same_trials=same_trials,
        hit_rate=hits / different_trials,
        false_alarm_rate=false_alarms / same_trials,
        d_prime=_independent(z_hit - z_alarm),
        d_prime_differencing=_differencing(hit, criterion),
        criterion=criterion,
        bias=-(z_hit + z_alarm) / 2,
        corrected=corrected,
        fisher_p=_fisher(hits, different_trials, false_alarms, same_trials),
    )


def _independent(apart: float) -> float:
    share = _NORMAL.cdf(apart / 2)
    if share <= 0.5:
        return 0.0
    return 2 * _NORMAL.inv_cdf((1 + sqrt(2 * share - 1)) / 2)


def _differencing(hit: float, criterion: float) -> float:
    def rate(d: float) -> float:
        return _NORMAL.cdf((d - criterion) / sqrt(2)) + _NORMAL.cdf((-d - criterion) / sqrt(2))

    if rate(0) >= hit:
        return 0.0
    low, high = 0.0, LARGEST
    while high - low > 1e-12:
        middle = (low + high) / 2
        low, high = (middle, high) if rate(middle) < hit else (low, middle)
    return (low + high) / 2


def _fisher(hits: int, different_trials: int, false_alarms: int, same_trials: int) -> float:
    said = hits + false_alarms
    ways = sum(
        comb(different_trials, k) * comb(same_trials, said - k) for k in range(hits, min(said, different_trials) + 1)
    )
    return ways / comb(different_trials + same_trials, said)
