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


@dataclass(frozen=True)
class Stretch:
    """One stretch that somebody heard of a setup: in which row of the chain, when, for how long."""

    row: int
    at: str
    setup_id: str
    heard_ms: int


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


def heard(casebook: Casebook) -> list[HeardFreely]:
    """What was heard freely so far, a listener and setup each."""
    rows = casebook.query(
        """SELECT listener_id, setup_id, sum(to_ms - from_ms) AS heard_ms, min(free_auditions.at) AS first,
           max(free_auditions.at) AS last FROM free_auditions JOIN sessions ON sessions.id = session_id
           GROUP BY listener_id, setup_id ORDER BY min(free_auditions.seq)""",
    )
    return [documents.from_plain(row, HeardFreely) for row in rows]


def stretches(casebook: Casebook, listener_id: str, before_row: int | None = None) -> list[Stretch]:
    """All that a listener heard freely before a row of the chain (None: so far), in its order."""
    rows = casebook.query(
        """SELECT free_auditions.seq AS row, free_auditions.at, setup_id, to_ms - from_ms AS heard_ms
           FROM free_auditions JOIN sessions ON sessions.id = session_id
           WHERE listener_id = :listener AND (:before IS NULL OR free_auditions.seq < :before)
           ORDER BY free_auditions.seq""",
        {"listener": listener_id, "before": before_row},
    )
    return [documents.from_plain(row, Stretch) for row in rows]
