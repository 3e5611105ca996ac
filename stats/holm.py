"""Holm's correction: several comparisons judged together."""

from __future__ import annotations

from collections.abc import Sequence

from .validation import check_proportion


def holm(p_values: Sequence[float]) -> list[float]:
    """The adjusted p-values, in the order given: reject where one is at most alpha, and the family error rate is kept.

    Raises
    ------
    StatsError
        If a p-value is not 0 to 1.

    Notes
    -----
    The k-th smallest of m is multiplied by m − k + 1; an adjusted value is never below a smaller p's (Holm, Scand. J.
    Statist. 6, 1979).

    Examples
    --------
    >>> [round(p, 3) for p in holm([0.01, 0.04, 0.03, 0.005])]
    [0.03, 0.06, 0.06, 0.02]

    So of these four comparisons the first and the last hold at 5 %.
    """
    for p_value in p_values:
        check_proportion(p_value)
    adjusted = [0.0] * len(p_values)
    reached = 0.0
    for rank, place in enumerate(sorted(range(len(p_values)), key=p_values.__getitem__)):
        reached = max(reached, min(1.0, (len(p_values) - rank) * p_values[place]))
        adjusted[place] = reached
    return adjusted
