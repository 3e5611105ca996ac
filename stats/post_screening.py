"""Which listeners' grades of many stimuli count (ITU-R BS.1534-3, 4.1.2), without selecting what is tested.

The Recommendation leaves out who misses the hidden reference. Where the hidden reference is itself one of the setups
that are tested, that selects a difference: of those who grade at random it keeps the ones who happened to grade the
reference high, and twenty of them with two trials each are then found to hear it in 57 of 100 panels (selection by
what is tested: Kriegeskorte et al., Nature Neuroscience 12, 2009, from memory). So the rule used is `by_anchor`, the
Recommendation's other half: it looks at grades that no pair of setups is tested by, and leaves the test its alpha,
whoever it leaves out. Who misses the reference is named and kept. `by_reference_and_anchor` is the whole rule of the
Recommendation, for plans that were sealed with it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isnan

from .errors import StatsError

MOST_MISSES = 0.15  # 4.1.2, p. 5: more than 15 % of the items
LEAST_REFERENCE, MOST_ANCHOR = 90, 90
HARD_ITEM = 0.25  # more than a quarter of the assessors above 90: the item counts against nobody

Columns = Mapping[str, Sequence[float | None]]
"""Grades of one stimulus by listener, item by item in one order; None or NaN where a listener gave none."""


@dataclass(frozen=True)
class Screening:
    """The listeners kept, and why the others were not; of those kept, who missed the reference."""

    kept: tuple[str, ...]
    excluded: Mapping[str, str]
    missed_reference: Mapping[str, str]


def by_anchor(reference: Columns, mid_anchor: Columns) -> Screening:
    """Leave out who grades the mid anchor above 90 in more than 15 % of the items, or grades nothing.

    Raises
    ------
    StatsError
        If the two name other listeners or have other numbers of items.

    Notes
    -----
    Items whose mid anchor more than a quarter of the listeners grade above 90 count against nobody. 90 itself is
    neither below nor above; 15 % itself keeps. Shares are of the items graded, those that count against nobody
    included. Who grades the hidden reference below 90 in more than 15 % of the items is named, and kept.

    Examples
    --------
    >>> found = by_anchor({"Ada": [100, 95, 91, 96, 88, 99]}, {"Ada": [40, 50, 45, 30, 60, 40]})
    >>> found.kept, found.missed_reference
    (('Ada',), {'Ada': 'graded the hidden reference below 90 in 1 of 6 items'})
    """
    given, anchors = _checked(reference, mid_anchor)
    excluded = _nothing(given) | _high_anchor(anchors)
    kept = tuple(name for name in given if name not in excluded)
    missed = {name: why for name, why in _low_reference(given).items() if name in kept}
    return Screening(kept, _in_order(excluded, given), missed)


def by_reference_and_anchor(reference: Columns, mid_anchor: Columns) -> Screening:
    """The same, and leave out who grades the hidden reference below 90 in more than 15 % of the items (4.1.2, p. 5).

    Raises
    ------
    StatsError
        If the two name other listeners or have other numbers of items.

    >>> by_reference_and_anchor({"Ada": [100, 95, 91, 96, 88, 99]}, {"Ada": [40, 50, 45, 30, 60, 40]}).excluded
    {'Ada': 'graded the hidden reference below 90 in 1 of 6 items'}
    """
    given, anchors = _checked(reference, mid_anchor)
    excluded = _high_anchor(anchors) | _low_reference(given) | _nothing(given)
    return Screening(tuple(name for name in given if name not in excluded), _in_order(excluded, given), {})


def _checked(reference: Columns, mid_anchor: Columns) -> tuple[Columns, Columns]:
    if set(reference) != set(mid_anchor):
        raise StatsError("reference and mid anchor must be graded by the same listeners")
    lengths = {len(row) for row in [*reference.values(), *mid_anchor.values()]}
    if len(lengths) > 1:
        raise StatsError("every listener needs one grade (or None) for every item")
    return _none_where_missing(reference), _none_where_missing(mid_anchor)


def _nothing(reference: Columns) -> dict[str, str]:
    return {name: "graded nothing" for name, row in reference.items() if all(grade is None for grade in row)}


def _low_reference(reference: Columns) -> dict[str, str]:
    found = {}
    for name, row in reference.items():
        given = [grade for grade in row if grade is not None]
        low = sum(grade < LEAST_REFERENCE for grade in given)
        if low > MOST_MISSES * len(given) + 1e-9:
            found[name] = f"graded the hidden reference below 90 in {low} of {len(given)} items"
    return found


def _high_anchor(mid_anchor: Columns) -> dict[str, str]:
    hard = set()
    for item, graded in enumerate(zip(*mid_anchor.values(), strict=True)):
        given = [grade for grade in graded if grade is not None]
        if given and sum(grade > MOST_ANCHOR for grade in given) > HARD_ITEM * len(given):
            hard.add(item)
    found = {}
    for name, row in mid_anchor.items():
        anchors = [grade for grade in row if grade is not None]
        high = sum(grade > MOST_ANCHOR for item, grade in enumerate(row) if grade is not None and item not in hard)
        if high > MOST_MISSES * len(anchors) + 1e-9:
            found[name] = f"graded the mid anchor above 90 in {high} of {len(anchors)} items"
    return found


def _in_order(found: Mapping[str, str], names: Columns) -> dict[str, str]:
    return {name: found[name] for name in names if name in found}


def _none_where_missing(columns: Columns) -> Columns:
    """The same with None for every grade that was not given."""
    return {name: [None if grade is None or isnan(grade) else grade for grade in row] for name, row in columns.items()}
