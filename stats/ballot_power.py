"""What a blind ballot of several words can find at all with so many pairs, for two setups heard in pairs. Pure.

Each word is judged by the exact test of `paired_ticks`, all words together by Holm's correction. The word that has to
pass first meets alpha divided by the number of words; the figures here are for that step, the hardest.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import exp

from .binomial import critical
from .binomial_tail import at_least, log_probability
from .errors import StatsError
from .validation import check_alpha, check_proportion, check_trials, check_wanted

MOST_PAIRS = 500  # no listener hears more; the search for a number of pairs ends there
NEARNESS = 1e-4  # to which the smallest rate found is known


@dataclass(frozen=True)
class BallotPower:
    """What a ballot can find.

    Attributes
    ----------
    pairs, words, alpha
        What it was asked for: pairs heard, words on the list, the family's error.
    least_differing
        The fewest pairs with one tick only that can show anything, all going one way; above `pairs` nothing can.
    reverse_rate
        How often the second setup alone is assumed to get the tick.
    smallest_rate
        How often the first alone must get it to be found with the power wanted; None where no rate is enough.
    """

    pairs: int
    words: int
    alpha: float
    least_differing: int
    reverse_rate: float
    wanted: float
    smallest_rate: float | None

    @property
    def smallest_difference(self) -> float | None:
        """The difference of the two tick rates that goes with `smallest_rate`."""
        return None if self.smallest_rate is None else self.smallest_rate - self.reverse_rate


def least_differing(words: int, alpha: float = 0.05) -> int:
    """The fewest pairs with one tick only that can pass, if all go one way.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    The smallest m with 2·(1/2)^m ≤ alpha/words.

    Examples
    --------
    >>> least_differing(1), least_differing(10), least_differing(20)
    (6, 9, 10)

    So with ten words on the list a word needs nine pairs that all point the same way, before it can count.
    """
    share = _first_step(words, alpha)
    pairs = 1
    while 2 * 0.5**pairs > share:
        pairs += 1
    return pairs


def ballot_power(first_only: float, second_only: float, pairs: int, words: int = 1, alpha: float = 0.05) -> float:
    """The probability that a word passes Holm's first step.

    Parameters
    ----------
    first_only, second_only
        How often a pair gives the tick to the first setup alone, and to the second alone; together at most 1.
    pairs
        Pairs heard.
    words
        Words on the list.
    alpha
        The error of the whole list, two-sided.

    Raises
    ------
    StatsError
        If a number is out of range, or the two rates come to more than 1.

    Notes
    -----
    Σ over m of P(m pairs differ)·P(the exact test of m pairs is at most alpha/words), both binomial; exact. A word that
    passes the wrong way round counts too, as in the test. Further words that pass make the later steps easier, so that
    the power in the whole ballot is never lower.

    Examples
    --------
    >>> round(ballot_power(0.6, 0.1, 22), 3), round(ballot_power(0.6, 0.1, 22, words=20), 3)
    (0.806, 0.365)

    So a word ticked of A alone in 60 % of pairs and of B alone in 10 % is found by 22 pairs four times in five, if it
    is the only one asked for; as one of twenty, hardly more than once in three.
    """
    _check_rates(first_only, second_only)
    check_trials(pairs)
    return _power(first_only, second_only, int(pairs), _first_step(words, alpha))


def pairs_needed(
    first_only: float, second_only: float, words: int = 1, alpha: float = 0.05, wanted: float = 0.8
) -> int | None:
    """The fewest pairs that find such a word with the power wanted; None above `MOST_PAIRS`.

    Parameters and errors are those of `ballot_power`. Where each pair differs, a few pairs more can find a little less,
    since the criterion moves by whole pairs.

    Examples
    --------
    >>> pairs_needed(0.6, 0.1), pairs_needed(0.6, 0.1, words=20)
    (22, 39)

    So twenty words ask for nearly twice the pairs that one asks for.
    """
    _check_rates(first_only, second_only)
    check_wanted(wanted)
    share = _first_step(words, alpha)
    every = range(least_differing(words, alpha), MOST_PAIRS + 1)
    return next((pairs for pairs in every if _power(first_only, second_only, pairs, share) >= wanted), None)


def what_can_be_found(
    pairs: int, words: int, alpha: float = 0.05, reverse_rate: float = 0.1, wanted: float = 0.8
) -> BallotPower:
    """What so many pairs can find of so many words.

    Parameters
    ----------
    pairs, words, alpha
        As for `ballot_power`.
    reverse_rate
        How often the second setup alone gets the tick: what a word flips by itself.
    wanted
        The power wanted.

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    >>> found = what_can_be_found(24, words=10)
    >>> found.least_differing, round(found.smallest_rate, 2), round(found.smallest_difference, 2)
    (9, 0.75, 0.65)

    So 24 pairs and ten words find only what nearly always separates the two: a word ticked of the one alone in 75 % of
    pairs and of the other alone in 10 %.

    >>> what_can_be_found(8, words=10).smallest_rate is None
    True

    And 8 pairs find nothing whatever happens.
    """
    check_trials(pairs)
    check_proportion(reverse_rate)
    check_wanted(wanted)
    share = _first_step(words, alpha)
    low, high = reverse_rate, 1 - reverse_rate
    smallest = None
    if high > low and _power(high, reverse_rate, int(pairs), share) >= wanted:
        while high - low > NEARNESS:
            middle = (low + high) / 2
            if _power(middle, reverse_rate, int(pairs), share) >= wanted:
                high = middle
            else:
                low = middle
        smallest = high
    return BallotPower(int(pairs), int(words), alpha, least_differing(words, alpha), reverse_rate, wanted, smallest)


def _power(first_only: float, second_only: float, pairs: int, share: float) -> float:
    differing = first_only + second_only
    if not differing:
        return 0.0
    towards, total = first_only / differing, 0.0
    for number in range(1, pairs + 1):
        chance = exp(log_probability(number, pairs, min(1.0, differing)))
        if chance > 1e-15:
            total += chance * _passing(number, towards, share)
    return min(1.0, total)


@lru_cache(maxsize=8192)
def _passing(differing: int, towards: float, share: float) -> float:
    """The probability that so many pairs that differ pass, each going to the first with probability `towards`."""
    edge = critical(differing, share, alternative="two-sided")
    return 0.0 if edge is None else at_least(edge, differing, towards) + at_least(edge, differing, 1 - towards)


def _first_step(words: int, alpha: float) -> float:
    check_trials(words)
    check_alpha(alpha)
    return alpha / int(words)


def _check_rates(first_only: float, second_only: float) -> None:
    check_proportion(first_only)
    check_proportion(second_only)
    if first_only + second_only > 1 + 1e-12:
        raise StatsError(
            f"the two rates are of the same pairs, so at most 1 together; got {first_only} and {second_only}"
        )
