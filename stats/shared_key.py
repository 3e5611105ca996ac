"""Votes of many on trials that were the same for all of them, and whether they agree with the key beyond chance.

Whoever votes in one poll shares habits, comments and one key, so that votes are not independent and their number says
little. What is random is the key: one fair coin a trial. Plain counts in; the standard library alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .errors import StatsError

MOST_TRIALS = 20


@dataclass(frozen=True)
class SharedKey:
    """The votes with the key, of how many, the exact p-value over all keys, and the least that one could reach."""

    trials: int
    votes: int
    right: int
    alternative: str
    p_value: float
    least_p: float

    @property
    def proportion(self) -> float:
        """The share of votes with the key."""
        return self.right / self.votes


def shared_key(votes: Sequence[tuple[int, int]], *, two_sided: bool = False) -> SharedKey:
    """The exact test of votes against a key of one fair coin a trial.

    Parameters
    ----------
    votes
        For each trial: how many voted as its key says, and how many otherwise.
    two_sided
        False: more votes with the key than chance makes. True: more or fewer.

    Raises
    ------
    StatsError
        If there is no vote, a count is below 0, or there are more than 20 trials.

    Notes
    -----
    With the votes held as they are, every one of the 2^n keys was equally likely; under the null nobody's vote depends
    on the key. p is the share of keys with which as many votes, or more, would have been right: a randomisation test
    (Fisher, The Design of Experiments, 1935, chapter III; from memory). It holds whatever the voters have in common; it
    cannot go below 2^-n, so a poll of one trial shows nothing.

    Examples
    --------
    Five trials in which most of a thousand voters are right each time:

    >>> found = shared_key([(560, 440)] * 5)
    >>> found.right, found.votes, found.p_value
    (2800, 5000, 0.03125)

    So 5 of 5 majorities were right, which one key in 32 would have given; that 5,000 people voted adds nothing to it.
    """
    if not votes or len(votes) > MOST_TRIALS:
        raise StatsError(f"a poll has 1 to 20 trials; got {len(votes)}")
    if any(number < 0 for pair in votes for number in pair) or not sum(map(sum, votes)):
        raise StatsError("votes are counts of 0 and more, with one at least; see the table")
    ways = Counter({0: 1})
    for right, wrong in votes:
        longer: Counter[int] = Counter()
        for total, number in ways.items():
            longer[total + right - wrong] += number
            longer[total + wrong - right] += number
        ways = longer
    seen = sum(right - wrong for right, wrong in votes)

    def share(least: int) -> Fraction:
        far = sum(number for total, number in ways.items() if (abs(total) if two_sided else total) >= least)
        return Fraction(far, 1 << len(votes))

    right, every = sum(pair[0] for pair in votes), sum(map(sum, votes))
    p_value = share(abs(seen) if two_sided else seen)
    most = sum(abs(right - wrong) for right, wrong in votes)
    side = "two-sided" if two_sided else "greater"
    return SharedKey(len(votes), every, right, side, float(p_value), float(share(most)))
