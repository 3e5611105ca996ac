"""Showing that a difference is too small to matter: the similarity rule of ISO 4120 and ISO 5495, exactly.

Needs the standard library alone, as the exact test does.
"""

from __future__ import annotations

from fractions import Fraction
from numbers import Real

from . import binomial
from .errors import StatsError
from .validation import check_chance, check_counts, check_trials


def critical(trials: int, share: float | Fraction, beta: float = 0.05, chance: float | Fraction = 0.5) -> int | None:
    """The largest number right that still rules out that the difference is truly heard in `share` of the trials.

    Parameters
    ----------
    trials
        1 to 100 000; ISO 5495 advises against fewer than 30.
    share
        The share of trials (or people) truly hearing it that would matter, above 0 and below 1.
    beta
        The risk of ruling it out although it is there, between 0 and 1.
    chance
        The proportion right by guessing, between 0 and 1.

    Returns
    -------
    int or None
        None where even this number would lie below what guessing alone gives on average (trials times chance): then
        there are too few trials to rule out so small a share.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    The largest x with P(X ≤ x) ≤ beta when each trial is right with probability chance + share·(1 − chance): ISO
    5495:2005 Table A.3, ISO 4120:2004 Table A.2 and clause 8.2. Printed tables have slips; this is computed.

    Examples
    --------
    ISO 5495:2005 Table A.3, 126 trials, beta .05, 30 %: 72.

    >>> critical(126, 0.3), critical(126, 0.1)
    (72, None)

    So 72 or fewer right of 126 show that less than 30 % truly heard it; for 10 % there are too few trials.
    """
    check_trials(trials)
    _check_inside("beta", beta)
    found = binomial.critical(trials, beta, proportion_right(share, chance), "less")
    return None if found is None or found < trials * _exactly(chance) else found


def ruled_out(
    correct: int, trials: int, share: float | Fraction, beta: float = 0.05, chance: float | Fraction = 0.5
) -> bool:
    """True if the count shows, at risk `beta`, that the difference is truly heard in less than `share` of the trials.

    Always False where `critical` is None. A count far below chance rules it out too, but asks for another question:
    whether the answers were given the wrong way round (the exact test with ``less`` tells how far below it is).

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    >>> ruled_out(70, 126, 0.3), ruled_out(75, 126, 0.3), ruled_out(9, 16, 0.3)
    (True, False, False)

    So 9 of 16 does not rule out that it is heard in 30 % of the trials, although it shows nothing either.
    """
    check_counts(correct, trials)
    limit = critical(trials, share, beta, chance)
    return limit is not None and correct <= limit


def p_value(correct: int, trials: int, share: float | Fraction, chance: float | Fraction = 0.5) -> float:
    """The p-value of "truly heard in at least `share` of the trials": so few right, or fewer, if that were so.

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    >>> round(p_value(72, 126, 0.3), 4), round(p_value(9, 16, 0.5), 4)
    (0.041, 0.0796)

    So 72 of 126 would be seen in 4 % of sessions in which 30 % are truly heard; 9 of 16 in 8 % of those with half.
    """
    return binomial.binomial_test(correct, trials, proportion_right(share, chance), "less").p_value


def proportion_right(share: float | Fraction, chance: float | Fraction = 0.5) -> Fraction:
    """The proportion right where `share` of the trials are truly heard and the rest guessed; decimals taken exactly.

    >>> proportion_right(0.3), proportion_right(0.5, Fraction(1, 3))
    (Fraction(13, 20), Fraction(2, 3))
    """
    check_chance(chance)
    _check_inside("the share truly heard", share)
    guessed = _exactly(chance)
    return guessed + _exactly(share) * (1 - guessed)


def _exactly(number: float | Fraction) -> Fraction:
    """A float by its shortest decimal, so that 0.1 means one tenth."""
    return number if isinstance(number, Fraction) else Fraction(str(float(number)))


def _check_inside(name: str, value: float | Fraction) -> None:
    if isinstance(value, bool) or not isinstance(value, Real) or not 0 < value < 1:
        raise StatsError(f"{name} must lie between 0 and 1; got {value!r}")
