"""Ties of a paired preference: what the policy fixed beforehand makes of the counts."""

from __future__ import annotations

from dataclasses import dataclass

from .errors import StatsError
from .validation import MOST_TRIALS, Alternative, check_alternative, check_counts

POLICIES = ("not offered", "drop", "split")


@dataclass(frozen=True)
class PreferenceCounts:
    """The choices of the first that enter the test, and its trials."""

    for_first: int
    trials: int


def with_ties(
    for_first: int,
    for_second: int,
    ties: int = 0,
    policy: str = "not offered",
    alternative: Alternative = "two-sided",
) -> PreferenceCounts:
    """The counts that enter the exact test of no preference.

    Parameters
    ----------
    policy
        ``not offered``: the listener had to choose; a tie is an error. ``drop``: ties are left out, the test is
        conditional on the choices made (the sign test). ``split``: ties go half to each.
    alternative
        ``greater``: the first was foreseen to be preferred.

    Raises
    ------
    StatsError
        If the policy is unknown, a count is not whole or negative, or ties occur that were not offered.

    Notes
    -----
    The odd one of the ties to be split goes where it helps least: to the second where the first was foreseen, otherwise
    to the side with fewer choices. Trials that were not answered are the business of `closed_early`.

    Examples
    --------
    Nine for the first, four for the second, five ties:

    >>> with_ties(9, 4, 5, "drop"), with_ties(9, 4, 5, "split")
    (PreferenceCounts(for_first=9, trials=13), PreferenceCounts(for_first=11, trials=18))

    So 9 of 13 are tested, or 11 of 18.
    """
    if policy not in POLICIES:
        raise StatsError(f"the ties policy is one of {', '.join(POLICIES)}; got {policy!r}")
    check_alternative(alternative)
    for count in (for_first, for_second, ties):
        check_counts(count, MOST_TRIALS)
    if ties and policy == "not offered":
        raise StatsError(f"{ties} ties, but the plan offered none; count again or plan with another policy")
    first, second = for_first, for_second
    if policy == "split":
        half, odd = divmod(ties, 2)
        first, second = first + half, second + half
        if alternative == "greater" or first > second:
            second += odd
        else:
            first += odd
    return PreferenceCounts(first, first + second)
