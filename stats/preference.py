"""A paired preference with possible ties: what the policy fixed beforehand makes of the counts."""

from __future__ import annotations

from dataclasses import dataclass

from .binomial import binomial_test
from .errors import StatsError
from .validation import MOST_TRIALS, check_counts

POLICIES = ("not offered", "drop", "split")


@dataclass(frozen=True)
class PreferenceTest:
    """The counts that entered the test, the policy that made them, and the exact two-sided p-value."""

    for_first: int
    trials: int
    policy: str
    p_value: float


def preference_test(for_first: int, for_second: int, ties: int = 0, policy: str = "not offered") -> PreferenceTest:
    """The exact two-sided test of no preference.

    Parameters
    ----------
    policy
        ``not offered``: the listener had to choose; a tie is an error. ``drop``: ties are left out, the test is
        conditional on the choices made (the sign test). ``split``: ties go half to each; an odd one
        goes to the smaller side, so that splitting never helps.

    Raises
    ------
    StatsError
        If the policy is unknown, ties occur that were not offered, or nothing is left to test.

    Examples
    --------
    ISO 5495:2005/Amd 1:2016, clause B.5.2, example 3: 32 of 44, two-sided.

    >>> round(preference_test(32, 12).p_value, 6)
    0.003658

    So the first was preferred, beyond what chance does in 4 of 1000 such panels.
    """
    if policy not in POLICIES:
        raise StatsError(f"the ties policy is one of {', '.join(POLICIES)}; got {policy!r}")
    for count in (for_first, for_second, ties):
        check_counts(count, MOST_TRIALS)
    if ties and policy == "not offered":
        raise StatsError(f"{ties} ties, but the plan offered none; count again or plan with another policy")
    first, second = for_first, for_second
    if policy == "split":
        half, odd = divmod(ties, 2)
        first, second = first + half, second + half
        if odd and first < second:
            first += 1
        elif odd:
            second += 1
    if first + second == 0:
        raise StatsError("every answer was a tie; there is nothing to test")
    return PreferenceTest(
        first, first + second, policy, binomial_test(first, first + second, alternative="two-sided").p_value
    )
