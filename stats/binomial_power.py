"""Power and sample size of the exact binomial test, with the saw-tooth that whole counts make."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

from .binomial_tail import at_least
from .counted_methods import with_direction
from .d_prime import proportion_correct
from .errors import StatsError
from .validation import (
    Alternative,
    check_alpha,
    check_alternative,
    check_chance,
    check_proportion,
    check_trials,
    check_wanted,
)

MOST_SEARCHED = 20_000


@dataclass(frozen=True)
class Power:
    """What a number of trials can find: the criterion, the real error rate, the power."""

    trials: int
    critical: int | None
    alpha_actual: float
    power: float


@dataclass(frozen=True)
class SampleSize:
    """Trials needed: the first number that reaches the power, and the one from which it never falls below again."""

    trials_first: int
    trials_stable: int


@dataclass(frozen=True)
class PowerStatement:
    """Power and sample size for one question about a method."""

    method: str
    reached: Power
    needed: SampleSize
    proportion: float

    def to_document(self) -> dict[str, Any]:
        """The statement as the command line prints it."""
        return {
            "method": self.method,
            "trials": self.reached.trials,
            "critical": self.reached.critical,
            "alpha_actual": self.reached.alpha_actual,
            "power": self.reached.power,
            "trials_first": self.needed.trials_first,
            "trials_stable": self.needed.trials_stable,
            "proportion": self.proportion,
        }


def power(
    trials: int,
    proportion: float,
    alpha: float = 0.05,
    chance: float = 0.5,
    alternative: Alternative = "greater",
) -> Power:
    """The probability of reaching the criterion when the true proportion is `proportion`.

    Parameters
    ----------
    trials
        1 to 100 000.
    proportion
        The true proportion right (or preferring one), 0 to 1.
    alternative
        ``greater``, or ``two-sided`` (at chance ½).

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    Leventhal, JAES 34(6), 1986: 12 of 16 misses a listener who is right in 70 % of trials with probability .5501.

    >>> found = power(16, 0.7)
    >>> found.critical, round(found.alpha_actual, 4), round(1 - found.power, 4)
    (12, 0.0384, 0.5501)

    So 16 trials find such a listener less than half the time.
    """
    check_trials(trials)
    check_proportion(proportion)
    check_alpha(alpha)
    _check_side(alternative, chance)
    tail = _one_tail(alpha, alternative)
    below, count = 0, trials + 1  # the criterion is above the one and at most the other
    while count - below > 1:
        middle = (below + count) // 2
        below, count = (below, middle) if at_least(middle, trials, float(chance)) <= tail else (middle, count)
    actual, reached = at_least(count, trials, float(chance)), at_least(count, trials, proportion)
    if alternative == "two-sided":
        actual, reached = 2 * actual, reached + at_least(count, trials, 1 - proportion)
    return Power(trials, count if count <= trials else None, actual, reached)


def sample_size(
    proportion: float,
    wanted: float = 0.8,
    alpha: float = 0.05,
    chance: float = 0.5,
    alternative: Alternative = "greater",
) -> SampleSize:
    """Trials needed for the power wanted.

    Raises
    ------
    StatsError
        If the proportion is no better than chance, a number is out of range, or over 20 000 trials would be needed.

    Notes
    -----
    Power does not grow steadily with the number of trials: the criterion is whole, so it falls back whenever the
    criterion steps up. Both ends of that saw-tooth are given.

    Examples
    --------
    >>> sample_size(0.75)
    SampleSize(trials_first=23, trials_stable=28)

    So 23 trials reach 80 % power for a listener right in 75 %, but 24 to 27 do not all; from 28 on all do.
    """
    check_proportion(proportion)
    check_alpha(alpha)
    check_wanted(wanted)
    _check_side(alternative, chance)
    effect = abs(proportion - chance) if alternative == "two-sided" else proportion - chance
    if effect <= 0:
        raise StatsError(f"the proportion to be found must be better than chance ({chance:g}); got {proportion!r}")
    first = last_miss = None
    most = 256
    for trials, (_, _, reached) in enumerate(_curve(proportion, alpha, chance, alternative), 1):
        if reached < wanted:
            last_miss = trials
        elif first is None:
            first = trials
        if trials == most:
            # beyond the last miss the curve must have risen clear of the wanted power, or the search goes on
            stable = (last_miss or 0) + 1
            if first is not None and stable <= min(most // 2, MOST_SEARCHED):
                return SampleSize(first, stable)
            if most > 2 * MOST_SEARCHED:
                break
            most *= 2
    raise StatsError(f"more than {MOST_SEARCHED} trials would be needed to find a proportion of {proportion!r}")


def curve(
    first: int,
    last: int,
    proportion: float,
    alpha: float,
    chance: float = 0.5,
    alternative: Alternative = "greater",
) -> tuple[list[int], list[float], list[float]]:
    """Criterion, real error rate and power for every number of trials from `first` to `last`.

    A criterion of trials + 1 says that no count reaches alpha.
    """
    found = list(islice(_curve(proportion, alpha, chance, alternative), first - 1, last))
    return [one[0] for one in found], [one[1] for one in found], [one[2] for one in found]


def _curve(
    proportion: float, alpha: float, chance: float, alternative: Alternative
) -> Iterator[tuple[int, float, float]]:
    """Criterion, real error rate and power for 1, 2, 3 … trials, each from the one before.

    With a trial more the criterion stays or goes up by one.
    """
    tail, two_sided = _one_tail(alpha, alternative), alternative == "two-sided"
    by_chance, by_ear, by_other_ear = _Tail(float(chance)), _Tail(proportion), _Tail(1 - proportion)
    tails = (by_chance, by_ear, by_other_ear) if two_sided else (by_chance, by_ear)
    while True:
        for one in tails:
            one.add_trial()
        if by_chance.reached > tail:
            for one in tails:
                one.raise_criterion()
        if two_sided:
            yield by_chance.criterion, 2 * by_chance.reached, by_ear.reached + by_other_ear.reached
        else:
            yield by_chance.criterion, by_chance.reached, by_ear.reached


class _Tail:
    """P(X ≥ criterion), followed as trials are added and the criterion is raised: one step each.

    Sums of what was there and a term, so that rounding grows with the number of steps and no faster.
    """

    def __init__(self, proportion: float) -> None:
        self.right, self.wrong = proportion, 1 - proportion
        self.trials, self.criterion, self.reached = 0, 1, 0.0
        self._just_below = 1.0  # P(X = criterion − 1)

    def add_trial(self) -> None:
        self.trials += 1
        self.reached = min(1.0, self.reached + self.right * self._just_below)
        self._just_below *= self.wrong * self.trials / (self.trials - self.criterion + 1)

    def raise_criterion(self) -> None:
        if self.wrong > 0:
            ways = (self.trials - self.criterion + 1) / self.criterion
            self._just_below *= ways * self.right / self.wrong
        else:
            self._just_below = float(self.criterion == self.trials)
        self.criterion += 1
        self.reached = max(0.0, self.reached - self._just_below) if self.criterion <= self.trials else 0.0


def state(
    method: str,
    *,
    trials: int | None = None,
    proportion: float | None = None,
    d_prime: float | None = None,
    wanted: float = 0.8,
    alpha: float = 0.05,
    alternative: Alternative | None = None,
) -> PowerStatement:
    """Power and sample size for a method's question, as a planner asks it.

    Parameters
    ----------
    trials
        None: the first number of trials that reaches the power wanted.
    proportion, d_prime
        The effect to be found: one of the two; neither means that it is truly heard in half of the trials.

    Raises
    ------
    StatsError
        If both effects are given, or a number is out of range.
    """
    chosen = with_direction(method, alternative)
    if proportion is not None and d_prime is not None:
        raise StatsError("give the effect once: as a proportion or as d', not both")
    if d_prime is not None:
        proportion = proportion_correct(d_prime, chosen.d_prime_method)
    effect = float(chosen.usual_effect) if proportion is None else proportion
    if trials is not None:
        check_trials(trials)
    needed = sample_size(effect, wanted, alpha, float(chosen.chance), chosen.alternative)
    number = needed.trials_first if trials is None else trials
    return PowerStatement(
        method, power(number, effect, alpha, float(chosen.chance), chosen.alternative), needed, effect
    )


def _one_tail(alpha: float, alternative: Alternative) -> float:
    """What a tail by chance may be; one that equals alpha reaches it, however it was rounded."""
    return (alpha / 2 if alternative == "two-sided" else alpha) * (1 + 1e-12)


def _check_side(alternative: Alternative, chance: float) -> None:
    check_alternative(alternative)
    check_chance(chance)
    if alternative == "less":
        raise StatsError("power is defined for greater and two-sided alternatives; mirror the proportion instead")
    if alternative == "two-sided" and chance != 0.5:
        raise StatsError(f"a two-sided test is defined for chance 1/2 only; got {chance!r}")
