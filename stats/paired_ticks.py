"""One word, two setups heard in pairs: whether it was ticked of one more often than of the other. Pure.

Pairs in which both or neither got the tick say nothing of a direction; the others are counts of a fair coin where the
listener cannot tell the two apart (McNemar, Psychometrika 12, 1947, in its exact form, which is the sign test).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb

from .binomial import binomial_test
from .errors import StatsError
from .intervals import Interval, clopper_pearson
from .validation import check_counts, check_level, check_trials

ERROR_FOR_DIRECTION = 0.8  # of what the interval of the difference may err; the rest is for how many pairs differ


@dataclass(frozen=True)
class PairedTicks:
    """How often one of a pair alone was ticked, and what that says.

    Attributes
    ----------
    first_only, second_only, pairs
        Pairs in which only the first, or only the second, got the tick, and all pairs.
    p_value, mid_p
        Exact and two-sided; and with half the probability of what was seen. The first never errs more often than it
        says, the second is closer on average but may.
    share
        The first's share of the pairs that differ, with its exact interval: it leaves out 1/2 exactly where
        `p_value` is at most 1 − level. None where no pair differs.
    difference
        The first's tick rate less the second's.
    interval
        Of that difference, for pairs like these; it covers the true one with at least its level, and never leaves
        out 0 where `p_value` is above 1 − level.
    """

    first_only: int
    second_only: int
    pairs: int
    p_value: float
    mid_p: float
    share: Interval | None
    difference: float
    interval: Interval


def paired_ticks(first_only: int, second_only: int, pairs: int, level: float = 0.95) -> PairedTicks:
    """The exact test of the pairs that differ, and how far apart the two tick rates can be.

    Parameters
    ----------
    first_only, second_only
        Pairs in which the word was ticked of one setup alone.
    pairs
        All pairs in which the word was offered for both.
    level
        Of the intervals.

    Raises
    ------
    StatsError
        If a count is not whole or they do not fit together, or the level is out of range.

    Notes
    -----
    With m = b + c pairs that differ, p = min(1, 2·P(X ≥ max(b, c))), X binomial (m, 1/2); mid-p leaves out half of the
    probability of what was seen and of its mirror image: p − P(X = b), or 1 − P(X = b)/2 where b = c (Fagerland,
    Lydersen and Laake, BMC Med. Res. Methodol. 13:91, 2013; from memory). The difference of the rates is q(2s − 1), q
    being how often a pair differs and s the first's share of those; q and s get exact intervals
    (Clopper and Pearson), s by four fifths of the error allowed and q by one fifth, so that both hold at once with at
    least the level (Bonferroni). That is wide rather than wrong. Where no pair differs, the difference is no further
    from 0 than pairs can differ at all.

    Assumed: each pair is a presentation of its own, blind and in random order. Pairs of one listener tell of this
    listener; they are no sample of people.

    Examples
    --------
    >>> found = paired_ticks(9, 1, 24)
    >>> round(found.p_value, 4), round(found.mid_p, 4)
    (0.0215, 0.0117)
    >>> round(found.share.low, 3), round(found.share.high, 3)
    (0.555, 0.997)
    >>> round(found.difference, 2), round(found.interval.low, 2), round(found.interval.high, 2)
    (0.33, 0.01, 0.69)

    So the word went with the first setup alone 9 times and with the second alone once: guessing does that, to either
    side, in about 2 of 100 such ballots. It was ticked 33 points more often of the first; in the long run that may be
    anything from 1 to 69 points.
    """
    check_trials(pairs)
    check_counts(first_only, pairs)
    check_counts(second_only, pairs)
    check_level(level)
    first_only, second_only, pairs = int(first_only), int(second_only), int(pairs)
    differing = first_only + second_only
    if differing > pairs:
        raise StatsError(f"{first_only} and {second_only} pairs that differ are more than the {pairs} pairs there were")
    p_value, mid_p, share = exact_p(first_only, second_only), 1.0, None
    if differing:
        seen = comb(differing, first_only) / 2**differing
        mid_p = 1 - seen / 2 if first_only == second_only else p_value - seen
        share = clopper_pearson(first_only, differing, level)
    interval = _interval_of_difference(first_only, differing, pairs, level)
    return PairedTicks(
        first_only, second_only, pairs, p_value, mid_p, share, (first_only - second_only) / pairs, interval
    )


def exact_p(first_only: int, second_only: int) -> float:
    """The exact two-sided p of the pairs that differ, without anything beside it; 1 where none does.

    Raises
    ------
    StatsError
        If a count is not a whole number from 0 on.

    Examples
    --------
    >>> round(exact_p(9, 1), 4), exact_p(0, 0)
    (0.0215, 1.0)
    """
    differing = first_only + second_only
    return binomial_test(first_only, differing, alternative="two-sided").p_value if differing else 1.0


def _interval_of_difference(first_only: int, differing: int, pairs: int, level: float) -> Interval:
    for_direction = (1 - level) * ERROR_FOR_DIRECTION
    rate = clopper_pearson(differing, pairs, level + for_direction)
    low = high = 1.0
    if differing:
        share = clopper_pearson(first_only, differing, 1 - for_direction)
        low, high = 2 * share.low - 1, 2 * share.high - 1
    else:
        low = -1.0
    return Interval(
        level,
        low * (rate.high if low < 0 else rate.low),
        high * (rate.high if high > 0 else rate.low),
        "exact, both parts",
    )
