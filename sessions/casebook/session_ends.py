"""The ends of the chain that sessions and a closing showed, read from it.

A session that counts shows an end when it is begun, taken up, stopped and complete: that of the row in which it says so
(its mark), whatever others wrote after it. Everything before that row, each answer of the session too, stands under it.
Closing a plan early tells its key, so it shows an end too, that of the opening's row: without it a copy from before the
closing could be put back and answered by the key.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from .chain_ends import End, EndCode
from .origins import link_there
from .session_rows import ALL_COMPLETE
from .store import Casebook

SHOWN = ("begun", "taken up", "stopped", "complete")
"""The turns at which a session shows the chain's end."""
CLOSED = "closed early"


@dataclass(frozen=True)
class ShownEnd:
    """An end that was shown: of whose session (nobody's: of the plan as it was closed), at which turn, and when."""

    listener: str
    what: str
    at: str
    end: End


def of_plan(casebook: Casebook, plan_id: str) -> list[ShownEnd]:
    """The ends that the counting sessions of a plan and its closing showed, in their order."""
    closed = closing(casebook, plan_id)
    return _ends(casebook, "plan_id = ?", plan_id) + ([] if closed is None else [closed])


def closing(casebook: Casebook, plan_id: str) -> ShownEnd | None:
    """The end that a plan's closing showed; None where it was not closed early."""
    rows = casebook.query("SELECT * FROM openings WHERE plan_id = ? AND why <> ?", [plan_id, ALL_COMPLETE])
    return ShownEnd("", CLOSED, rows[0]["at"], End(*link_there(casebook, "openings", rows[0]))) if rows else None


def answer_rows(casebook: Casebook, plan_id: str) -> list[int]:
    """The places in the chain of the answers in a plan's counting sessions, in their order."""
    rows = casebook.query(
        """SELECT answers.id AS id, answers.seq AS seq, answers.hash AS hash
           FROM answers JOIN trials ON trials.id = trial_id
           JOIN sessions ON sessions.id = session_id WHERE plan_id = ? AND rehearsal IS NULL ORDER BY answers.seq""",
        [plan_id],
    )
    return [link_there(casebook, "answers", row)[0] for row in rows]


def newest(casebook: Casebook, session_id: str) -> ShownEnd:
    """The end that a session shows now."""
    return _ends(casebook, "sessions.id = ?", session_id)[-1]


def hash_at(casebook: Casebook, code: EndCode) -> str | None:
    """The hash of the row at which an end was, here or where a row was brought in from; None where there is none."""
    rows = casebook.query(
        "SELECT hash FROM chain_links WHERE seq = ? UNION ALL SELECT hash FROM origin_links WHERE seq = ?",
        [code.rows, code.rows],
    )
    hashes = [str(row["hash"]) for row in rows]
    return next((one for one in hashes if code.fits(one)), hashes[0] if hashes else None)


def _ends(casebook: Casebook, which: str, value: Any) -> list[ShownEnd]:
    rows = casebook.query(
        f"""SELECT session_marks.id AS id, listeners.name AS listener, what, session_marks.at AS at,
            session_marks.seq AS seq, session_marks.hash AS hash
            FROM session_marks JOIN sessions ON sessions.id = session_id JOIN listeners ON listeners.id = listener_id
            WHERE rehearsal IS NULL AND {which} AND what IN {SHOWN} ORDER BY session_marks.seq""",
        [value],
    )
    return [
        ShownEnd(row["listener"], row["what"], row["at"], End(*link_there(casebook, "session_marks", row)))
        for row in rows
    ]
