"""Several listeners judged together: each one's exact test, their pooled test, and bounds on how many of them hear it.

Needs the standard library alone, as the exact test does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import Any

from . import similarity
from .binomial import binomial_test
from .errors import StatsError
from .holm import holm
from .validation import Alternative, check_alpha, check_alternative, check_chance, check_counts


@dataclass(frozen=True)
class Count:
    """What is counted (a listener, a passage), how many answers were right, and of how many."""

    name: str
    correct: int
    trials: int


@dataclass(frozen=True)
class Listener:
    """One listener: the exact p-value, the one adjusted for the whole panel, and whether that reaches alpha."""

    name: str
    correct: int
    trials: int
    p_value: float
    p_adjusted: float
    shown: bool


@dataclass(frozen=True)
class Panel:
    """All listeners, the pooled test of all their trials, and the lower bound on how many of them hear it."""

    chance: float
    alpha: float
    alternative: Alternative
    listeners: tuple[Listener, ...]
    correct: int
    trials: int
    p_value: float
    hearers: int

    def to_document(self) -> dict[str, Any]:
        """The panel as the command line prints it."""
        return asdict(self)


def panel(
    counts: Sequence[Count],
    chance: float | Fraction = 0.5,
    alpha: float = 0.05,
    alternative: Alternative = "greater",
) -> Panel:
    """Each listener's exact test with Holm's correction, the pooled exact test, and the least number of hearers.

    Parameters
    ----------
    counts
        One a listener, each name once; the numbers of trials may differ.
    chance
        The proportion right by guessing, between 0 and 1.
    alternative
        ``greater``, ``less`` or ``two-sided``, for each listener and the pooled count alike.

    Raises
    ------
    StatsError
        If there is no listener, a name comes twice, or a number is out of range.

    Notes
    -----
    The pooled test asks whether anybody hears it: if nobody does, every trial of everybody is right with the chance
    probability, so its level holds with replicated trials too (Kunert and Meyners, Food Qual. Pref. 10, 1999). It says
    nothing about who, or how many.

    Examples
    --------
    >>> found = panel([Count("first", 15, 16), Count("second", 9, 16), Count("third", 12, 16)])
    >>> [(one.name, round(one.p_adjusted, 4), one.shown) for one in found.listeners]
    [('first', 0.0008, True), ('second', 0.4018, False), ('third', 0.0768, False)]
    >>> found.correct, round(found.p_value, 5), found.hearers
    (36, 0.00036, 1)

    So somebody hears it, and the first does beyond doubt; of the third it is not shown, once all three are tested.
    """
    check_panel(counts, chance)
    check_alpha(alpha)
    check_alternative(alternative)
    p_values = [binomial_test(one.correct, one.trials, chance, alternative).p_value for one in counts]
    correct, trials = sum(one.correct for one in counts), sum(one.trials for one in counts)
    return Panel(
        chance=float(chance),
        alpha=alpha,
        alternative=alternative,
        listeners=tuple(
            Listener(one.name, one.correct, one.trials, p_value, adjusted, adjusted <= alpha)
            for one, p_value, adjusted in zip(counts, p_values, holm(p_values), strict=True)
        ),
        correct=correct,
        trials=trials,
        p_value=binomial_test(correct, trials, chance, alternative).p_value,
        hearers=least_hearers(p_values, alpha),
    )


def least_hearers(p_values: Sequence[float], alpha: float = 0.05) -> int:
    """The lower bound, at confidence 1 − alpha, on how many listeners truly hear it, from each one's own p-value.

    Raises
    ------
    StatsError
        If a p-value is not 0 to 1, or alpha not between 0 and 1.

    Notes
    -----
    Partial conjunctions (Benjamini and Heller, Biometrics 64, 2008): "fewer than u of n hear it" is rejected when
    (n − u + 1) times the u-th smallest p-value is at most alpha, Bonferroni's combination of the n − u + 1 largest; the
    bound is the last u up to which all are rejected. Those are the steps of Holm's procedure, so the bound is the
    number of p-values that Holm's correction leaves significant. It holds under any dependence between listeners.

    Examples
    --------
    >>> least_hearers([0.001, 0.02, 0.03, 0.6])
    1
    >>> least_hearers([0.001, 0.012, 0.024, 0.6])
    3

    So at 95 % confidence at least one, or at least three, of these four listeners hear it.
    """
    check_alpha(alpha)
    return sum(adjusted <= alpha for adjusted in holm(p_values))


def most_hearers(
    counts: Sequence[Count], chance: float | Fraction = 0.5, share: float | Fraction = 0.5, alpha: float = 0.05
) -> int:
    """The upper bound, at confidence 1 − alpha, on how many listeners hear it in at least `share` of their trials.

    Parameters
    ----------
    share
        The share of trials truly heard that counts as hearing it, between 0 and 1: such a listener is right with
        probability chance + share·(1 − chance) or more.

    Raises
    ------
    StatsError
        If there is no listener, a name comes twice, or a number is out of range.

    Notes
    -----
    The mirror of `least_hearers`: P(X ≤ x) at that probability tests "hears it in at least that share", and as many
    listeners as Holm's correction leaves significant do not. With the lower bound of `least_hearers` it brackets how
    many hear it; each bound errs with probability alpha at most, the two together with 2·alpha at most.

    Examples
    --------
    >>> most_hearers([Count("first", 15, 16), Count("second", 7, 16), Count("third", 8, 16), Count("fourth", 6, 16)])
    2

    So at 95 % confidence at most two of these four hear it in half of the trials; 8 of 16 is not few enough to tell.
    """
    check_panel(counts, chance)
    check_alpha(alpha)
    return len(counts) - least_hearers(
        [similarity.p_value(one.correct, one.trials, share, chance) for one in counts], alpha
    )


def check_panel(counts: Sequence[Count], chance: float | Fraction) -> None:
    """Nothing, if there are counts, each in range and each name once, and the chance is one; otherwise StatsError."""
    check_chance(chance)
    if not counts:
        raise StatsError("there is nothing to test: give at least one count")
    for one in counts:
        check_counts(one.correct, one.trials)
    names = [one.name for one in counts]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise StatsError(f"each name has one count; given more than once: {', '.join(twice)}")
