"""Answers that guessing would hardly give: far fewer right ones than by chance, or nearly all of one name. Pure.

Who names the presentation that is unlike the others, hears it or guesses. Both give a right answer at least as often as
chance does, and both name each place equally often in the long run, since the place is drawn evenly. Answers that are
neither come of a habit (always the first), or of a task taken the wrong way round.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import comb
from typing import Literal

from .errors import StatsError

Habit = Literal["one name", "below chance"]

# Each of the two by itself. By any one length of a run an honest guesser is called one of them in 2 of 1000 at most; of
# 4000 simulated runs of the threshold search at the chair, whose length follows the answers, 2 were.
SMALL = 0.001
NEARLY_ALL = 0.75  # of the answers; fewer are no habit, only a liking; our choice


def habit(right: int, named: Sequence[int]) -> Habit | None:
    """What the answers of a run follow instead of what was played; None where nothing speaks for that.

    Parameters
    ----------
    right
        How many answers were right.
    named
        How often each presentation was named; as many numbers as a trial has presentations, 2 at least.

    Raises
    ------
    StatsError
        If more were right than there are answers, or a number is below 0.

    Examples
    --------
    Always the first of three, and 18 times wrong without a favourite:

    >>> habit(6, [18, 0, 0]), habit(0, [6, 7, 5]), habit(2, [6, 7, 5])
    ('one name', 'below chance', None)
    """
    trials, chance = sum(named), 1 / len(named) if named else 0.0
    if len(named) < 2 or min(named) < 0 or not 0 <= right <= trials:
        raise StatsError(f"of {trials} answers, named {list(named)}, {right} cannot be right")
    most = max(named)
    # more than half of the answers fall on one place alone, so that the places' probabilities add up exactly
    if trials and most >= NEARLY_ALL * trials and len(named) * at_least(most, trials, chance) <= SMALL:
        return "one name"
    return "below chance" if at_most(right, trials, chance) <= SMALL else None


def at_most(count: int, trials: int, chance: float) -> float:
    """The exact binomial probability of so many or fewer."""
    return sum(comb(trials, one) * chance**one * (1 - chance) ** (trials - one) for one in range(count + 1))


def at_least(count: int, trials: int, chance: float) -> float:
    """The exact binomial probability of so many or more."""
    return at_most(trials - count, trials, 1 - chance)
