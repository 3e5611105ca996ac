"""The full statement about one count: test, criterion, verdict, interval, sensitivity."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Any

from .binomial import binomial_test, critical
from .counted_methods import counted_method, with_direction
from .d_prime import d_prime
from .intervals import Interval, clopper_pearson
from .largest_difference import largest_difference
from .validation import Alternative, check_alpha, check_counts

HEARD, NOT_SHOWN = "heard", "not shown"


@dataclass(frozen=True)
class CountSummary:
    """One count and all that follows from it. d′ is None where it is infinite (all right, or all for one)."""

    method: str
    correct: int
    trials: int
    chance: float
    p_value: float
    alpha: float
    critical: int | None
    verdict: str
    interval: Interval
    d_prime: float | None
    d_prime_differencing: float | None
    largest_difference: float | None

    @property
    def proportion(self) -> float:
        """The proportion seen."""
        return self.correct / self.trials

    def to_document(self) -> dict[str, Any]:
        """The summary as the command line prints it."""
        document: dict[str, Any] = {
            "method": self.method,
            "correct": self.correct,
            "trials": self.trials,
            "chance": self.chance,
            "p_value": self.p_value,
            "alpha": self.alpha,
            "critical": self.critical,
            "verdict": self.verdict,
            "proportion": self.proportion,
            "interval": {
                "level": self.interval.level,
                "low": self.interval.low,
                "high": self.interval.high,
                "kind": self.interval.kind,
            },
            "d_prime": self.d_prime,
        }
        if self.d_prime is None:
            document["d_prime_note"] = "infinite: every answer went the same way, so its size cannot be estimated"
        if counted_method(self.method).differencing_too:
            document["d_prime_differencing"] = self.d_prime_differencing
        if self.largest_difference is not None:
            document["largest_difference_allowed"] = self.largest_difference
        return document


def summarise(
    method: str, correct: int, trials: int, alpha: float = 0.05, alternative: Alternative | None = None
) -> CountSummary:
    """All that follows from `correct` right answers, or choices of the first (preference), in `trials`.

    Parameters
    ----------
    method
        One of `counted_methods.COUNTED_METHODS`.
    alternative
        None: the method's own. ``greater`` for a preference whose side was foreseen (the first).

    The verdict is ``heard`` when the method's planned test reaches alpha, otherwise ``not shown``: for a preference,
    ``heard`` says that the setups were told apart by preference. d′ is that of the independent-observation model for
    ABX and same-different, of the differencing model for triangle, duo-trio and tetrad; 0 at or below chance; for a
    preference it is signed, positive for the first.

    Raises
    ------
    StatsError
        If the method is unknown or a number is out of range.

    Examples
    --------
    >>> result = summarise("abx", 12, 16)
    >>> result.verdict, result.critical, round(result.p_value, 4), round(result.d_prime, 2)
    ('heard', 12, 0.0384, 1.79)
    """
    chosen = with_direction(method, alternative)
    check_counts(correct, trials)
    check_alpha(alpha)
    p_value = binomial_test(correct, trials, chosen.chance, chosen.alternative).p_value
    needed = critical(trials, alpha, chosen.chance, chosen.alternative)
    counted = correct if chosen.alternative == "greater" else max(correct, trials - correct)
    heard = needed is not None and counted >= needed
    differencing = None
    if chosen.differencing_too:
        differencing = _finite(d_prime(correct / trials, chosen.d_prime_method, "differencing"))
    return CountSummary(
        method=method,
        correct=correct,
        trials=trials,
        chance=float(chosen.chance),
        p_value=p_value,
        alpha=alpha,
        critical=needed,
        verdict=HEARD if heard else NOT_SHOWN,
        interval=clopper_pearson(correct, trials),
        d_prime=signed_d_prime(method, correct, trials),
        d_prime_differencing=differencing,
        largest_difference=None
        if chosen.asks_preference
        else largest_difference(correct, trials, chance=float(chosen.chance)),
    )


def signed_d_prime(method: str, correct: int, trials: int) -> float | None:
    """The method's d′ for a count; negative where a preference goes to the second; None where it is infinite."""
    chosen = counted_method(method)
    measure = chosen.d_prime_method
    if chosen.asks_preference and 2 * correct < trials:
        mirrored = _finite(d_prime((trials - correct) / trials, measure))
        return None if mirrored is None else -mirrored
    return _finite(d_prime(correct / trials, measure))


def _finite(value: float) -> float | None:
    return value if isfinite(value) else None
