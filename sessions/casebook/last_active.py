"""Who did something last: logged a word, or began, left or took up a session. Rehearsals of a plan are nobody's."""

from __future__ import annotations

from .store import Casebook


def last_active(casebook: Casebook) -> str | None:
    """The name of the listener of the newest word or mark of a session; None before there is one."""
    rows = casebook.query(
        """SELECT name FROM listeners JOIN (
            SELECT listener_id, seq FROM words
            UNION ALL SELECT listener_id, session_marks.seq FROM session_marks JOIN sessions
                ON sessions.id = session_id WHERE plan_id IS NULL OR rehearsal IS NULL
        ) ON listeners.id = listener_id ORDER BY seq DESC LIMIT 1"""
    )
    return str(rows[0]["name"]) if rows else None
