"""Power and sample size of the exact binomial test, with the saw-tooth that whole counts make."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

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

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

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
    counts, actual, reached = curve(trials, trials, proportion, alpha, chance, alternative)
    found = int(counts[0])
    return Power(trials, found if found <= trials else None, float(actual[0]), float(reached[0]))


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
    first, most = None, 256
    while True:
        _, _, reached = curve(1, most, proportion, alpha, chance, alternative)
        above = reached >= wanted
        if first is None and above.any():
            first = int(above.argmax()) + 1
        stable = most - int((~above)[::-1].argmax()) + 1 if not above.all() else 1
        # beyond the last miss the curve must have risen clear of the wanted power, or the search goes on
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
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Criterion, real error rate and power for every number of trials from `first` to `last`.

    A criterion of trials + 1 says that no count reaches alpha. Shapes: (last − first + 1,) each.
    """
    import numpy as np

    trials = np.arange(first, last + 1)
    chance = float(chance)
    tail = alpha / 2 if alternative == "two-sided" else alpha
    tail *= 1 + 1e-12  # a tail that equals alpha reaches it, however it was rounded
    below, counts = np.zeros_like(trials), trials + 1  # the criterion is above the one and at most the other
    while np.any(counts - below > 1):
        middle = (below + counts) // 2
        reached_it = _tail(middle, trials, chance) <= tail
        below, counts = np.where(reached_it, below, middle), np.where(reached_it, middle, counts)
    actual, reached = _tail(counts, trials, chance), _tail(counts, trials, proportion)
    if alternative == "two-sided":
        actual = actual * 2
        reached = reached + _tail(counts, trials, 1 - proportion)
    return counts, actual, reached


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


def _tail(counts: NDArray[np.int64], trials: NDArray[np.int64], proportion: float) -> NDArray[np.float64]:
    """P(X ≥ counts); by the incomplete beta function, exact at the ends."""
    import numpy as np
    from scipy.special import betainc

    inside = (counts > 0) & (counts <= trials)
    a = np.where(inside, counts, 1)
    b = np.where(inside, trials - counts + 1, 1)
    return np.where(counts <= 0, 1.0, np.where(counts > trials, 0.0, betainc(a, b, proportion)))


def _check_side(alternative: Alternative, chance: float) -> None:
    check_alternative(alternative)
    check_chance(chance)
    if alternative == "less":
        raise StatsError("power is defined for greater and two-sided alternatives; mirror the proportion instead")
    if alternative == "two-sided" and chance != 0.5:
        raise StatsError(f"a two-sided test is defined for chance 1/2 only; got {chance!r}")
