"""Several listeners: each one's result, the pooled one, and how many of them can hear it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from .binomial import binomial_test
from .counts import Alternative, check_alpha, check_counts, check_proportion
from .errors import StatsError
from .holm import holm


@dataclass(frozen=True)
class Count:
    """One listener's (or passage's) count."""

    name: str
    correct: int
    trials: int


@dataclass(frozen=True)
class Own:
    """One listener's exact p-value, and Holm's over the panel."""

    name: str
    correct: int
    trials: int
    p_value: float
    p_holm: float


@dataclass(frozen=True)
class Panel:
    """Each listener and all of them together."""

    listeners: tuple[Own, ...]
    correct: int
    trials: int
    p_pooled: float

    def to_document(self) -> dict[str, Any]:
        """The panel as plain values."""
        return {
            "listeners": [
                {
                    "listener": own.name,
                    "correct": own.correct,
                    "trials": own.trials,
                    "p_value": own.p_value,
                    "p_holm": own.p_holm,
                }
                for own in self.listeners
            ],
            "correct": self.correct,
            "trials": self.trials,
            "p_pooled": self.p_pooled,
        }


def panel(counts: Sequence[Count], chance: float | Fraction = 0.5, alternative: Alternative = "greater") -> Panel:
    """Each listener's exact result with Holm's correction, and the pooled binomial test.

    When nobody can hear it every answer is right by chance alone, so pooling keeps its error rate however many trials
    each listener had (Kunert and Meyners 1999, from memory). What listeners who differ do break is the pooled interval.

    Raises
    ------
    StatsError
        If there are no counts or one is out of range.

    Examples
    --------
    >>> found = panel([Count("Ada", 13, 16), Count("Bo", 9, 16)])
    >>> [round(own.p_holm, 3) for own in found.listeners], round(found.p_pooled, 4)
    ([0.021, 0.402], 0.0251)

    So together they hear it, and of the two it is Ada who does.
    """
    if not counts:
        raise StatsError("a panel needs at least one listener")
    p_values = [binomial_test(one.correct, one.trials, chance, alternative).p_value for one in counts]
    own = tuple(
        Own(one.name, one.correct, one.trials, p, q) for one, p, q in zip(counts, p_values, holm(p_values), strict=True)
    )
    correct, trials = sum(one.correct for one in counts), sum(one.trials for one in counts)
    return Panel(own, correct, trials, binomial_test(correct, trials, chance, alternative).p_value)


def hearers(p_values: Sequence[float], alpha: float = 0.05) -> int:
    """A lower bound, with confidence 1 − alpha, on how many listeners truly hear it.

    Parameters
    ----------
    p_values
        One a listener.

    Notes
    -----
    For u = 1, 2, …: "fewer than u hear it" is rejected when the n − u + 1 largest p-values, all of which would then
    hold at least one listener who hears nothing, are small even after Bonferroni: (n − u + 1)·p₍ᵤ₎ ≤ alpha, and so
    were all before it (Benjamini and Heller, Biometrics 64, 2008). It asks nothing of how listeners hang together.

    Examples
    --------
    >>> hearers([0.001, 0.012, 0.2, 0.6])
    2

    So at least two of the four hear it.
    """
    check_alpha(alpha)
    for p_value in p_values:
        check_proportion(p_value)
    ordered, found = sorted(p_values), 0
    for u, p_value in enumerate(ordered, 1):
        if (len(ordered) - u + 1) * p_value > alpha:
            break
        found = u
    return found


def at_most(counts: Sequence[Count], chance: float | Fraction = 0.5, share: float = 0.5, alpha: float = 0.05) -> int:
    """An upper bound, with confidence 1 − alpha, on how many listeners truly hear it in `share` of the trials or more.

    The mirrored procedure: each listener's p-value is the chance of so few right answers if it were heard that often.
    """
    check_proportion(share)
    p_values = []
    for one in counts:
        check_counts(one.correct, one.trials)
        heard = float(chance) + share * (1 - float(chance))
        p_values.append(binomial_test(one.correct, one.trials, heard, "less").p_value if heard < 1 else 1.0)
    return len(counts) - hearers(p_values, alpha)
