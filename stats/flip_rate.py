"""How often a word changes when nothing changed: its flips on same-same pairs, beside those on real pairs. Pure.

A flip is a pair in which exactly one of the two presentations got the word. On hidden same-same pairs flips are the
word's own noise; a word that flips as often there as on real pairs says nothing of the setups.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import comb

from .intervals import Interval, clopper_pearson
from .validation import check_counts


@dataclass(frozen=True)
class FlipRate:
    """Flips among pairs, their rate and its exact interval."""

    flips: int
    pairs: int
    rate: float
    interval: Interval


@dataclass(frozen=True)
class FlipsCompared:
    """Flips on real pairs beside flips on same-same pairs.

    Attributes
    ----------
    different, same
        The rates on pairs of two setups and on pairs of one.
    p_value, mid_p
        One-sided and exact: how likely so many of all flips, or more, fall on the real pairs by chance; and with half
        the probability of what was seen.
    least_p
        The smallest p that so many flips could have given: above alpha, these pairs could not have shown anything.
    """

    different: FlipRate
    same: FlipRate
    p_value: float
    mid_p: float
    least_p: float


def flip_rate(flips: int, pairs: int, level: float = 0.95) -> FlipRate:
    """How often a word flips, with the exact (Clopper-Pearson) interval.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    Assumed: each pair flips with the same probability, whatever the others did.

    Examples
    --------
    >>> found = flip_rate(1, 8)
    >>> found.rate, round(found.interval.low, 3), round(found.interval.high, 3)
    (0.125, 0.003, 0.527)

    So the word changed on 1 of 8 identical pairs; in the long run that may be anything from 0 to 53 in 100.
    """
    interval = clopper_pearson(flips, pairs, level)
    return FlipRate(int(flips), int(pairs), flips / pairs, interval)


def flips_compared(
    different_flips: int, different_pairs: int, same_flips: int, same_pairs: int, level: float = 0.95
) -> FlipsCompared:
    """Whether a word flips more often on real pairs than on same-same pairs.

    Parameters
    ----------
    different_flips, different_pairs
        Pairs of two setups, and those in which only one got the word.
    same_flips, same_pairs
        The same of hidden pairs of one setup.
    level
        Of the two rates' intervals.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    Fisher's exact test (The Design of Experiments, 1935): given how many pairs flipped in all, the flips on real pairs
    are hypergeometric. That is exact here, and no approximation: which pairs are same-same was drawn at random, so that
    a word that does not care flips on the same pairs whichever they are. Unconditional tests (Barnard's, Boschloo's)
    find a little more, but rest on independent flips of equal probability, which one listener's pairs need not have.

    Examples
    --------
    >>> found = flips_compared(12, 18, 1, 6)
    >>> round(found.p_value, 4), found.different.rate, round(found.same.rate, 2), round(found.least_p, 4)
    (0.0481, 0.666..., 0.17, 0.0034)

    So the word changed on 12 of 18 real pairs and on 1 of 6 identical ones: by chance alone the flips fall so, or more
    so, in 5 of 100 draws.
    """
    check_counts(different_flips, different_pairs)
    check_counts(same_flips, same_pairs)
    hits, real, same = int(different_flips), int(different_pairs), int(same_pairs)
    flips = hits + int(same_flips)
    most = min(flips, real)
    every = comb(real + same, flips)
    chances = {count: Fraction(comb(real, count) * comb(same, flips - count), every) for count in range(hits, most + 1)}
    p_value = sum(chances.values(), Fraction(0))
    return FlipsCompared(
        flip_rate(hits, real, level),
        flip_rate(int(same_flips), same, level),
        float(p_value),
        float(p_value - chances[hits] / 2),
        float(chances[most]),
    )
