"""The exact binomial test and its criterion, in whole-number arithmetic: no rounding until the last step.

Needs the standard library alone, so that a session in progress loads neither numpy nor scipy for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import comb

from .validation import Alternative, check_alpha, check_alternative, check_chance, check_counts, check_trials


@dataclass(frozen=True)
class BinomialTest:
    """A count, what it was tested against, and the exact p-value."""

    correct: int
    trials: int
    chance: float
    alternative: Alternative
    p_value: float


def binomial_test(
    correct: int, trials: int, chance: float | Fraction = 0.5, alternative: Alternative = "greater"
) -> BinomialTest:
    """The exact p-value of `correct` right answers in `trials`.

    Parameters
    ----------
    correct, trials
        Whole numbers, 0 ≤ correct ≤ trials, 1 ≤ trials ≤ 100 000.
    chance
        The proportion right by guessing, between 0 and 1; a Fraction is taken exactly.
    alternative
        ``greater`` (more than chance), ``less``, or ``two-sided``.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    Each trial is right with probability `chance` under the null, independently. One-sided: P(X ≥ correct). Two-sided:
    the sum of the probabilities of all counts no likelier than the one seen; at chance ½ this is 2·P(X ≥ larger count),
    at most 1 (ISO 5495:2005, the paired two-sided test).

    Examples
    --------
    The customary 16-trial criterion (Leventhal, JAES 34(6), 1986; quoted as .0384):

    >>> round(binomial_test(12, 16).p_value, 4)
    0.0384

    So 12 of 16 by guessing alone happens in fewer than 4 of 100 such sessions.
    """
    check_counts(correct, trials)
    check_chance(chance)
    check_alternative(alternative)
    correct, trials = int(correct), int(trials)  # numpy's whole numbers would overflow below
    top, bottom = _ratio(chance)
    if alternative == "greater":
        tail = _upper(trials, correct, top, bottom)
    elif alternative == "less":
        tail = 1 - _upper(trials, correct + 1, top, bottom)
    else:
        tail = _two_sided(trials, correct, top, bottom)
    return BinomialTest(correct, trials, float(chance), alternative, float(tail))


def critical(
    trials: int, alpha: float, chance: float | Fraction = 0.5, alternative: Alternative = "greater"
) -> int | None:
    """The smallest count that shows it at `alpha`; None if no count can.

    Two-sided (chance ½ only) it is the smallest larger-of-the-two-counts, as in ISO 5495:2005 Table A.2; for ``less``
    it is the largest count that is significantly below chance.

    Raises
    ------
    StatsError
        If a number is out of range, or a two-sided criterion is asked at a chance other than ½.

    Examples
    --------
    >>> critical(16, 0.05), critical(16, 0.05, alternative="two-sided"), critical(4, 0.05)
    (12, 13, None)

    So 16 trials ask for 12 right answers, or for 13 choices of the same setup; 4 trials can show nothing.
    """
    from .errors import StatsError

    check_trials(trials)
    check_alpha(alpha)
    check_chance(chance)
    check_alternative(alternative)
    trials = int(trials)  # numpy's whole numbers would overflow below
    top, bottom = _ratio(chance)
    limit = Fraction(*_ratio(alpha))
    if alternative == "two-sided":
        if 2 * top != bottom:
            raise StatsError(f"a two-sided criterion is defined for chance 1/2 only; got {chance!r}")
        limit /= 2
    if alternative == "less":
        mirrored = _smallest(trials, bottom - top, bottom, limit)
        return None if mirrored is None else trials - mirrored
    return _smallest(trials, top, bottom, limit)


def _smallest(trials: int, top: int, bottom: int, limit: Fraction) -> int | None:
    """The smallest x with P(X ≥ x) ≤ limit, adding terms from the top."""
    allowed = limit.numerator * bottom**trials
    term, total, found = top**trials, 0, None
    rest = bottom - top
    for count in range(trials, -1, -1):
        total += term
        if total * limit.denominator > allowed:
            break
        found = count
        term = term * count * rest // ((trials - count + 1) * top)
    return found


@lru_cache(maxsize=1024)
def _upper(trials: int, count: int, top: int, bottom: int) -> Fraction:
    """P(X ≥ count), exactly."""
    if 2 * count > trials:
        return Fraction(sum(_weights(trials, top, bottom, count)), bottom**trials)
    below = sum(_weights(trials, bottom - top, bottom, trials - count + 1))
    return 1 - Fraction(below, bottom**trials)


def _two_sided(trials: int, correct: int, top: int, bottom: int) -> Fraction:
    if 2 * top == bottom:
        larger = max(correct, trials - correct)
        return min(Fraction(1), 2 * _upper(trials, larger, top, bottom))
    seen = comb(trials, correct) * top**correct * (bottom - top) ** (trials - correct)
    ways = 0
    for flipped in (False, True):  # each tail from its end, up to the first count likelier than the one seen
        hit = bottom - top if flipped else top
        for weight in _weights(trials, hit, bottom, 0):
            if weight > seen:
                break
            ways += weight
        else:
            return Fraction(1)
    return Fraction(ways, bottom**trials)


def _weights(trials: int, top: int, bottom: int, last: int) -> Iterator[int]:
    """bottom^trials times P(X = count), from count = trials down to `last`, each from the one before."""
    weight = top**trials
    for count in range(trials, last - 1, -1):
        yield weight
        weight = weight * count * (bottom - top) // ((trials - count + 1) * top)


def _ratio(chance: float | Fraction) -> tuple[int, int]:
    """Chance as a ratio of whole numbers; a float by its shortest decimal, or the plain fraction it stands for.

    So 0.1 means one tenth, and 1 / 3 one third: counts that are equally likely stay so.
    """
    exact = chance if isinstance(chance, Fraction) else Fraction(str(float(chance)))
    simple = exact.limit_denominator(1000)
    if abs(simple - exact) < Fraction(1, 10**15):
        exact = simple
    return exact.numerator, exact.denominator
