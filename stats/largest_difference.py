"""The largest difference that a result still allows: what may be said when a difference was not shown.

The share of trials (or people) that could truly hear it, by the exact one-sided upper bound on the proportion right:
pd = (p_upper − chance) / (1 − chance), the quantity bounded in the similarity tests of ISO 4120 and ISO 5495.
"""

from __future__ import annotations

from . import intervals
from .validation import check_chance


def largest_difference(correct: int, trials: int, level: float = 0.95, chance: float = 0.5) -> float:
    """The upper bound on the share that truly hears it, 0 to 1.

    Raises
    ------
    StatsError
        If a number is out of range.

    Examples
    --------
    >>> round(largest_difference(9, 16), 2)
    0.55

    So 9 of 16 right still allows that the difference was truly heard in up to 55 % of the trials (95 % confidence): far
    from showing that there is none.
    """
    check_chance(chance)
    high = intervals.upper_bound(correct, trials, level)
    return max(0.0, (high - chance) / (1 - chance))
