"""The ends of the chain that sessions showed, read from it.

A session that counts shows an end when it is begun, taken up, stopped and complete: that of the row in which it says so
(its mark), whatever others wrote after it. Everything before that row, each answer of the session too, stands under it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from .chain_ends import End, EndCode
from .store import Casebook

SHOWN = ("begun", "taken up", "stopped", "complete")
"""The turns at which a session shows the chain's end."""


@dataclass(frozen=True)
class SessionEnd:
    """An end that a session showed: of whose session, at which turn, and when."""

    listener: str
    what: str
    at: str
    end: End


def of_plan(casebook: Casebook, plan_id: str) -> list[SessionEnd]:
    """The ends that the counting sessions of a plan showed, in their order."""
    return _ends(casebook, "plan_id = ?", plan_id)


def newest(casebook: Casebook, session_id: str) -> SessionEnd:
    """The end that a session shows now."""
    return _ends(casebook, "sessions.id = ?", session_id)[-1]


def hash_at(casebook: Casebook, code: EndCode) -> str | None:
    """The hash of the row at which an end was; None where the chain has no such row."""
    rows = casebook.query("SELECT hash FROM chain_links WHERE seq = ?", [code.rows])
    return str(rows[0]["hash"]) if rows else None


def _ends(casebook: Casebook, which: str, value: Any) -> list[SessionEnd]:
    rows = casebook.query(
        f"""SELECT listeners.name AS listener, what, session_marks.at AS at, session_marks.seq AS seq,
            session_marks.hash AS hash
            FROM session_marks JOIN sessions ON sessions.id = session_id JOIN listeners ON listeners.id = listener_id
            WHERE rehearsal IS NULL AND {which} AND what IN {SHOWN} ORDER BY session_marks.seq""",
        [value],
    )
    return [SessionEnd(row["listener"], row["what"], row["at"], End(row["seq"], row["hash"])) for row in rows]
