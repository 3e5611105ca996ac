"""The chain from a plan's seal to its end, for whoever checks that plan alone: its own rows whole, the others as links.

What other rows say (of another plan, perhaps, whose keys nobody may see yet) is not told; their hashes keep the chain
unbroken.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from .store import Casebook

Link = tuple[int, str, str]
"""The place of a row in the chain, the hash before it, and its own."""

_SESSIONS = "SELECT id FROM sessions WHERE plan_id = :plan AND rehearsal IS NULL"
_TRIALS = f"SELECT id FROM trials WHERE session_id IN ({_SESSIONS})"
_OWN: Mapping[str, str] = {
    "plans": "id = :plan",
    "phrases": "plan_id = :plan",
    "sessions": "plan_id = :plan AND rehearsal IS NULL",
    "counters": f"session_id IN ({_SESSIONS})",
    "session_marks": f"session_id IN ({_SESSIONS})",
    "trials": f"session_id IN ({_SESSIONS})",
    "answers": f"trial_id IN ({_TRIALS})",
    "auditions": f"trial_id IN ({_TRIALS})",
    "faults": f"session_id IN ({_SESSIONS})",
    "keys": f"trial_id IN ({_TRIALS})",
    "second_hands": "plan_id = :plan",
    "openings": "plan_id = :plan",
    "given_up": "plan_id = :plan",
}
"""By table, the rows that are a plan's."""


def chain_of(casebook: Casebook, plan_id: str) -> list[dict[str, Any] | Link]:
    """Every row of the chain from a plan's seal on, in order: the plan's with their table's name, the others bare."""
    own = {
        row["seq"]: {**row, "table": table}
        for table, which in _OWN.items()
        for row in casebook.query(f"SELECT * FROM {table} WHERE {which}", {"plan": plan_id})
    }
    links = casebook.query(
        "SELECT seq, prior, hash FROM chain_links WHERE seq >= (SELECT seq FROM plans WHERE id = ?) ORDER BY seq",
        [plan_id],
    )
    return [own.get(link["seq"], (link["seq"], link["prior"], link["hash"])) for link in links]
