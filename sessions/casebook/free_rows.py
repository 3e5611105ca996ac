"""The rows of free listening: sighted, of no plan, never counted. What was heard of which setup, where in the music.

All of their SQL is here. It decides nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from . import documents, session_rows
from .store import Casebook, NewRow, new_row

FREE = "free listening"


@dataclass(frozen=True)
class HeardFreely:
    """How long a listener heard a setup, sighted and freely, up to some moment; the days on which they did."""

    listener_id: str
    setup_id: str
    heard_ms: int
    first: str
    last: str


def new_session(listener_id: str, setup_ids: Sequence[str], device: str) -> NewRow:
    """That somebody begins to listen freely to some setups."""
    why = documents.text_of({"kind": FREE, "setups": list(setup_ids)})
    return session_rows.new_session(None, listener_id, listener_id, why, device)


def new_audition(session_id: str, setup_id: str, track_id: str, passage: str, from_ms: int, to_ms: int) -> NewRow:
    """One stretch in which one setup sounded, in milliseconds of the track; `passage` is empty for the whole track."""
    content = {
        "session_id": session_id,
        "setup_id": setup_id,
        "track_id": track_id,
        "passage": passage,
        "from_ms": from_ms,
        "to_ms": to_ms,
    }
    return new_row("free_auditions", "audition", content)


def heard(casebook: Casebook, before_row: int | None = None) -> list[HeardFreely]:
    """What was heard freely before a row of the chain (None: so far), a listener and setup each."""
    rows = casebook.query(
        """SELECT listener_id, setup_id, sum(to_ms - from_ms) AS heard_ms, min(free_auditions.at) AS first,
           max(free_auditions.at) AS last FROM free_auditions JOIN sessions ON sessions.id = session_id
           WHERE :before IS NULL OR free_auditions.seq < :before
           GROUP BY listener_id, setup_id ORDER BY min(free_auditions.seq)""",
        {"before": before_row},
    )
    return [documents.from_plain(row, HeardFreely) for row in rows]
