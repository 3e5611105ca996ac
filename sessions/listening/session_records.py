"""The rows of this room: sessions, their trials, answers, auditions, faults and marks, and what was heard how loud.

The one module of the room that reads and writes them. It decides nothing.
"""

from __future__ import annotations

import json
from dataclasses import dataclass

from ..casebook import documents
from ..casebook.store import Casebook
from ..plans.methods.method import Key

COMPLETE = "complete"


@dataclass(frozen=True)
class SessionRecord:
    """One listener's session in one plan, as it was begun; `rehearsal` says, as text, why it never counts."""

    id: str
    plan_id: str
    listener_id: str
    operator: str
    rehearsal: str | None
    device: str
    at: str


@dataclass(frozen=True)
class TrialRecord:
    """One offer of a trial: its key, its answer if it has one, and whether a playback fault disturbed it."""

    id: str
    trial: int
    offer: int
    key: Key
    answer: str | None
    disturbed: bool


@dataclass(frozen=True)
class ExposureRecord:
    """What a listener heard: for how long, and at what level at the ears."""

    at: str
    heard_ms: int
    level_dba_hundredths: int


def add_session(
    casebook: Casebook, plan_id: str, listener_id: str, operator: str, rehearsal: str | None, device: str
) -> SessionRecord:
    """Keep that a session is begun."""
    content = {
        "plan_id": plan_id,
        "listener_id": listener_id,
        "operator": operator,
        "rehearsal": rehearsal,
        "device": device,
    }
    return documents.from_plain(casebook.append("sessions", "session", content), SessionRecord)


def counting_session(casebook: Casebook, plan_id: str, listener_id: str) -> SessionRecord | None:
    """The session of a listener in a plan that counts, if it is begun."""
    sql = "SELECT * FROM sessions WHERE plan_id = ? AND listener_id = ? AND rehearsal IS NULL"
    rows = casebook.query(sql, [plan_id, listener_id])
    return documents.from_plain(rows[0], SessionRecord) if rows else None


def add_mark(casebook: Casebook, session_id: str, what: str, note: str = "") -> None:
    """Keep a turn of a session: begun, paused, resumed, stopped, taken up, complete, abandoned."""
    casebook.append("session_marks", "mark", {"session_id": session_id, "what": what, "note": note})


def is_complete(casebook: Casebook, session_id: str) -> bool:
    """Whether a session has come to its end."""
    sql = "SELECT 1 FROM session_marks WHERE session_id = ? AND what = ?"
    return bool(casebook.query(sql, [session_id, COMPLETE]))


def complete_sessions(casebook: Casebook, plan_id: str) -> int:
    """How many of a plan's counting sessions have come to their end."""
    rows = casebook.query(
        """SELECT count(*) AS n FROM session_marks JOIN sessions ON sessions.id = session_id
           WHERE plan_id = ? AND rehearsal IS NULL AND what = ?""",
        [plan_id, COMPLETE],
    )
    return int(rows[0]["n"])


def add_trial(casebook: Casebook, session_id: str, trial: int, offer: int, passage_id: str, key: Key) -> str:
    """Keep that a trial is offered; its identifier."""
    content = {
        "session_id": session_id,
        "trial": trial,
        "offer": offer,
        "passage_id": passage_id,
        "key": json.dumps(key, sort_keys=True),
    }
    return str(casebook.append("trials", "trial", content)["id"])


def trials(casebook: Casebook, session_id: str) -> list[TrialRecord]:
    """Every offer of every trial of a session."""
    rows = casebook.query(
        """SELECT trials.id, trial, offer, key, answers.answer,
           EXISTS (SELECT 1 FROM faults WHERE faults.trial_id = trials.id) AS disturbed
           FROM trials LEFT JOIN answers ON answers.trial_id = trials.id WHERE session_id = ?""",
        [session_id],
    )
    return [documents.from_plain(row | {"key": json.loads(row["key"])}, TrialRecord) for row in rows]


def answered(casebook: Casebook, session_id: str) -> int:
    """How many trials of a session are answered."""
    sql = "SELECT count(*) AS n FROM answers JOIN trials ON trials.id = trial_id WHERE session_id = ?"
    return int(casebook.query(sql, [session_id])[0]["n"])


def add_audition(casebook: Casebook, trial_id: str, stimulus: str, from_frame: int, to_frame: int) -> None:
    """Keep one stretch in which the listener heard one stimulus."""
    content = {"trial_id": trial_id, "stimulus": stimulus, "from_frame": from_frame, "to_frame": to_frame}
    casebook.append("auditions", "audition", content)


def add_fault(casebook: Casebook, session_id: str, trial_id: str, kind: str, count: int, detail: str) -> None:
    """Keep a playback fault of a trial."""
    content = {"trial_id": trial_id, "session_id": session_id, "kind": kind, "count": count, "detail": detail}
    casebook.append("faults", "fault", content)


def add_answer(casebook: Casebook, trial_id: str, answer: str, sureness: int, after_ms: int) -> None:
    """Keep the answer of a trial."""
    content = {"trial_id": trial_id, "answer": answer, "sureness": sureness, "after_ms": after_ms}
    casebook.append("answers", "answer", content)


def add_exposure(
    casebook: Casebook, session_id: str, listener_id: str, heard_ms: int, level_dba_hundredths: int
) -> None:
    """Keep that a listener heard something for so long at such a level."""
    content = {
        "listener_id": listener_id,
        "session_id": session_id,
        "heard_ms": heard_ms,
        "level_dba_hundredths": level_dba_hundredths,
    }
    casebook.append("exposures", "exposure", content)


def exposures(casebook: Casebook, listener_id: str) -> list[ExposureRecord]:
    """All that a listener heard at a known level."""
    rows = casebook.query(
        "SELECT at, heard_ms, level_dba_hundredths FROM exposures WHERE listener_id = ?", [listener_id]
    )
    return [documents.from_plain(row, ExposureRecord) for row in rows]
