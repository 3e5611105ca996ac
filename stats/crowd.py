"""Very many listeners with a few trials each, as an audience is: their pooled test, and how many can hear it at least.

Plain counts in; scipy is loaded where listeners' spread is fitted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, log

from . import beta_binomial, binomial_tail, intervals
from .binomial import binomial_test
from .errors import StatsError
from .intervals import Interval
from .validation import MOST_TRIALS, Alternative, check_level


@dataclass(frozen=True)
class Pooled:
    """A count over all listeners: the exact test against one half, and the proportion with its exact interval."""

    correct: int
    trials: int
    two_sided: bool
    p_value: float
    interval: Interval

    @property
    def proportion(self) -> float:
        """The proportion seen."""
        return self.correct / self.trials


@dataclass(frozen=True)
class Crowd:
    """All listeners; `spread` is None where there are fewer than two.

    Attributes
    ----------
    distribution
        How many listeners had 0, 1, 2, … right.
    by_guessing
        How many of so many listeners would have, if all guessed.
    hearers
        How many of them hear it at least (`least_hearers`); of a preference, how many prefer anything at least.
    """

    listeners: int
    pooled: Pooled
    distribution: tuple[int, ...]
    by_guessing: tuple[float, ...]
    hearers: int
    spread: beta_binomial.Fit | None


def pooled(correct: int, trials: int, *, two_sided: bool = False, level: float = 0.95) -> Pooled:
    """The exact binomial test of a count against one half, of whatever size, and the Clopper–Pearson interval.

    Raises
    ------
    StatsError
        If the count is none of these trials, or the level does not lie between 0 and 1.

    Notes
    -----
    Up to 100,000 trials in whole numbers (`binomial`); beyond, the same sum by its logarithms (`binomial_tail`).

    Examples
    --------
    >>> round(pooled(12, 16).p_value, 4)
    0.0384
    >>> found = pooled(401_000, 800_000)
    >>> round(found.p_value, 4), [round(end, 4) for end in (found.interval.low, found.interval.high)]
    (0.0127, [0.5002, 0.5023])

    So half a percent more than half of 800,000 is not much, but it is no chance.
    """
    check_level(level)
    if trials <= MOST_TRIALS:
        side: Alternative = "two-sided" if two_sided else "greater"
        p_value = binomial_test(correct, trials, 0.5, side).p_value
    elif not 0 <= correct <= trials:
        raise StatsError(f"the count must be a whole number from 0 to the {trials} trials; got {correct!r}")
    else:
        tail = binomial_tail.log_at_least(max(correct, trials - correct) if two_sided else correct, trials, 0.5)
        p_value = min(1.0, exp(tail + log(2))) if two_sided else exp(tail)
    return Pooled(correct, trials, two_sided, p_value, intervals.of_any_size(correct, trials, level))


def crowd(counts: Mapping[int, int], trials: int, *, two_sided: bool = False) -> Crowd:
    """What very many listeners come to, from how many of them had how many right.

    Parameters
    ----------
    counts
        Number right to number of listeners.
    trials
        Of each listener.
    two_sided
        For a preference: the count is of one setup, nobody is right, and the spread is one of tastes.

    Raises
    ------
    StatsError
        If there is nobody, or a count is out of range.

    Notes
    -----
    `spread.mu` is the mean share of trials truly heard (for a preference: the mean share for the first), by maximum
    likelihood; its interval is approximate (simulated with 20 to 2,000 listeners, some of whom hear it, its low end lay
    too high in 2 to 6 % instead of 2.5 %). `hearers` rests on no model. No bound from above follows: who hears one
    trial in a hundred looks like who guesses.

    Examples
    --------
    >>> found = crowd({8: 30, 4: 50, 3: 10, 5: 10}, 8)
    >>> found.listeners, found.pooled.correct, round(found.spread.mu, 2), found.hearers
    (100, 520, 0.3, 25)

    So a third or so of what these hundred heard was truly heard, and 25 of them or more hear it.
    """
    counts = Counter({right: number for right, number in counts.items() if number})
    if not counts or any(not 0 <= right <= trials or number < 0 for right, number in counts.items()):
        raise StatsError(f"each listener has 0 to {trials} right, and there is one at least; got {dict(counts)}")
    listeners = sum(counts.values())
    correct = sum(right * number for right, number in counts.items())
    ways = [listeners * exp(binomial_tail.log_probability(right, trials, 0.5)) for right in range(trials + 1)]
    spread = None
    if listeners > 1:
        each = list(counts.elements())
        spread = beta_binomial.fit(each, [trials] * listeners, corrected=not two_sided)
    return Crowd(
        listeners,
        pooled(correct, listeners * trials, two_sided=two_sided),
        tuple(counts[right] for right in range(trials + 1)),
        tuple(ways),
        least_hearers(max(correct, listeners * trials - correct) if two_sided else correct, listeners, trials),
        spread,
    )


def least_hearers(correct: int, listeners: int, trials: int, alpha: float = 0.05) -> int:
    """How many of these listeners hear it at least, at confidence 1 − alpha, from their pooled count alone.

    Notes
    -----
    If no more than k hear it, the others' trials are fair coins, and those of the k are right at most always. So the
    count is at most k·trials + Bin((listeners − k)·trials, 1/2), and "no more than k" is rejected where that reaches
    the count with probability alpha at most. Exact for any listeners, however much each of the k hears.

    Examples
    --------
    >>> least_hearers(520, 100, 8), least_hearers(410, 100, 8)
    (25, 0)
    """
    low, high = 0, listeners  # rejected below `low`, not rejected at `high`
    while low < high:
        k = (low + high) // 2
        if binomial_tail.at_least(correct - k * trials, (listeners - k) * trials, 0.5) <= alpha:
            low = k + 1
        else:
            high = k
    return low
