"""Why answers are in no group of a pool, and of how many that is so; those that were not read too. Pure.

Of several reasons the first of this list is told, so that the counts add up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from stats import counted_methods
from stats.errors import StatsError

from .judged_trials import BOUNDARY, CLOSED, CONTROL, KNOWN

OF_VOID = "of plans that are void (levels, giveaways)"
OF_CLOSED = "of plans closed early"
OF_BOUNDARY = "of plans that their own rule stopped, before their last trial or at it"
CONTROLS = "controls (all of a trial was one setup)"
OF_KNOWN = "of a known difference"
TIES = "ties"
NOT_COUNTED = "of methods whose answers are not counted (grades, words, more than two setups)"
ORDER = (OF_VOID, OF_CLOSED, OF_BOUNDARY, CONTROLS, OF_KNOWN, TIES, NOT_COUNTED)

NOT_HOLDING = "of casebooks whose record does not hold"
NOT_OVER = "of plans that are not over or were given up"

Counted = tuple[tuple[str, int], ...]
"""Reasons, each with how many answers."""


def counted(rows: Iterable[Mapping[str, Any]]) -> Counted:
    """The reasons of `pool_expressions.by_reason`, each once, in their order."""
    found = Counter[str]()
    for row in rows:
        found[_why(row)] += row["answers"]
    return tuple((why, found[why]) for why in ORDER if found[why])


def _why(row: Mapping[str, Any]) -> str:
    """Why the answers of a row are not pooled; empty where they are."""
    if row["void"]:
        return OF_VOID
    ended = {CLOSED: OF_CLOSED, BOUNDARY: OF_BOUNDARY}.get(row["ended"])
    kind = {CONTROL: CONTROLS, KNOWN: OF_KNOWN}.get(row["kind"])
    if ended or kind:
        return ended or kind or ""
    if row["scored"]:
        return ""
    return TIES if _is_counted(row["method"]) else NOT_COUNTED


def _is_counted(method: str) -> bool:
    try:
        counted_methods.counted_method(method)
    except StatsError:
        return False
    return True
