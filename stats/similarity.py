"""Similarity: what a result rules out. It never says that two things are equal."""

from __future__ import annotations

from fractions import Fraction

from .binomial import binomial_test
from .counts import check_alpha, check_chance, check_counts, check_trials
from .errors import StatsError

FEWEST = 30  # ISO 5495:2005, note to Table A.3: fewer trials are not recommended for similarity


def most_similar(trials: int, share: float, beta: float = 0.05, chance: float | Fraction = 0.5) -> int | None:
    """The most right answers that still rule out a difference truly heard in `share` of the trials.

    Parameters
    ----------
    share
        The smallest share of trials truly heard that would matter, above 0 and below 1 (p_d of the standards).
    beta
        The risk of ruling it out wrongly.

    Returns
    -------
    None where no count above chance does: the trials are too few.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    The largest x with P(X ≤ x | n, chance + share·(1 − chance)) ≤ beta, and none below n·chance (ISO 4120:2004, ISO
    5495:2005 Table A.3). The same as an exact upper bound, at confidence 1 − beta, of at most `share`.

    Examples
    --------
    ISO 5495:2005, Table A.3, 126 trials, share 30 %, beta .05:

    >>> most_similar(126, 0.3)
    72

    So up to 72 of 126 right rule out that it is truly heard in 30 % of the trials; never that it is heard at all.
    """
    check_trials(trials)
    check_alpha(beta)
    check_chance(chance)
    if not 0 < share < 1:
        raise StatsError(f"the share to be ruled out lies between 0 and 1; got {share!r}")
    heard = float(chance) + share * (1 - float(chance))
    found = None
    low, high = -1, trials
    while low < high:  # the lower tail grows with the count
        middle = (low + high + 1) // 2
        if binomial_test(middle, trials, heard, "less").p_value <= beta:
            low = middle
        else:
            high = middle - 1
    if low >= trials * float(chance):
        found = low
    return found


def ruled_out(correct: int, trials: int, share: float, beta: float = 0.05, chance: float | Fraction = 0.5) -> bool:
    """Whether so many right answers rule out that it is truly heard in `share` of the trials.

    Fewer right than guessing gives on average rule out nothing: the standards draw no conclusion from such counts.
    """
    check_counts(correct, trials)
    most = most_similar(trials, share, beta, chance)
    return most is not None and trials * float(chance) <= correct <= most
