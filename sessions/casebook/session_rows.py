"""The rows of sessions: their trials, answers, auditions, faults and marks, and what was heard how loud.

Whoever takes a test makes them, whoever judges or closes one reads them; all of their SQL is here. It decides nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from . import documents
from .store import Casebook, NewRow, Row, new_row

COMPLETE = "complete"
ALL_COMPLETE = "all sessions complete"  # why a plan was opened, unless it was closed early
_OF_PLAN = "SELECT id FROM sessions WHERE plan_id = :plan AND (rehearsal IS NOT NULL) = :rehearsals"


@dataclass(frozen=True)
class SessionRecord:
    """One listener's session, as it was begun; `rehearsal` says, as text, why it never counts.

    `plan_id` is None where it was free listening.
    """

    id: str
    plan_id: str | None
    listener_id: str
    operator: str
    rehearsal: str | None
    device: str
    at: str


@dataclass(frozen=True)
class MarkRecord:
    """A turn of a session: begun, paused, resumed, stopped, taken up, complete, abandoned."""

    session_id: str
    at: str
    what: str
    note: str


@dataclass(frozen=True)
class TrialRecord:
    """One offer of a trial: its answer if it has one, how many playback faults disturbed it, and its key.

    The key of a trial that counts is None before the opening of its plan: no row holds it then, but rows of before keys
    had rows of their own.
    """

    id: str
    session_id: str
    trial: int
    offer: int
    passage_id: str
    key: dict[str, int] | None
    at: str
    answer: str | None
    sureness: int | None
    after_ms: int | None
    faults: int


@dataclass(frozen=True)
class AuditionRecord:
    """One stretch in which the listener heard one stimulus of a trial, in frames of the passage."""

    trial_id: str
    stimulus: str
    from_frame: int
    to_frame: int


@dataclass(frozen=True)
class SessionCourse:
    """In which rows of the chain a session's first trial, its answers and its end lie; None: not so far."""

    first_trial: int | None = None
    answers: tuple[int, ...] = ()
    end: int | None = None


@dataclass(frozen=True)
class Progress:
    """How far a counting session has come: how many trials are answered, and whether it is complete."""

    plan_id: str
    listener_id: str
    answered: int
    complete: bool


@dataclass(frozen=True)
class ExposureRecord:
    """What a listener heard: for how long, and at what level at the ears."""

    at: str
    heard_ms: int
    level_dba_hundredths: int


@dataclass(frozen=True)
class FaultRecord:
    """What disturbed the playback of a trial; None of a run for a threshold."""

    at: str
    trial: int | None
    kind: str
    count: int


def new_session(plan_id: str | None, listener_id: str, operator: str, rehearsal: str | None, device: str) -> NewRow:
    """That a session is begun; free listening has no plan."""
    content = {
        "plan_id": plan_id,
        "listener_id": listener_id,
        "operator": operator,
        "rehearsal": rehearsal,
        "device": device,
    }
    return new_row("sessions", "session", content)


def new_mark(session_id: str, what: str, note: str = "") -> NewRow:
    """A turn of a session: begun, paused, resumed, stopped, taken up, complete, abandoned."""
    return new_row("session_marks", "mark", {"session_id": session_id, "what": what, "note": note})


def new_trial(session_id: str, trial: int, offer: int, passage_id: str, key: Mapping[str, int] | None) -> NewRow:
    """That a trial is offered; its key stands there in a rehearsal only."""
    content = {
        "session_id": session_id,
        "trial": trial,
        "offer": offer,
        "passage_id": passage_id,
        "key": documents.text_of(key),
    }
    return new_row("trials", "trial", content)


def new_key(trial_id: str, key: Mapping[str, int]) -> NewRow:
    """The key of a trial, told with the opening of its plan."""
    return new_row("keys", "key", {"trial_id": trial_id, "key": documents.text_of(key)})


def new_audition(trial_id: str, stimulus: str, from_frame: int, to_frame: int) -> NewRow:
    """One stretch in which the listener heard one stimulus."""
    content = {"trial_id": trial_id, "stimulus": stimulus, "from_frame": from_frame, "to_frame": to_frame}
    return new_row("auditions", "audition", content)


def new_fault(session_id: str, trial_id: str | None, kind: str, count: int, detail: str) -> NewRow:
    """A playback fault of a trial; of a run for a threshold, which has none of these trials, None."""
    content = {"trial_id": trial_id, "session_id": session_id, "kind": kind, "count": count, "detail": detail}
    return new_row("faults", "fault", content)


def new_answer(trial_id: str, answer: str, sureness: int, after_ms: int) -> NewRow:
    """The answer of a trial."""
    content = {"trial_id": trial_id, "answer": answer, "sureness": sureness, "after_ms": after_ms}
    return new_row("answers", "answer", content)


def new_exposure(session_id: str, listener_id: str, heard_ms: int, level_dba_hundredths: int) -> NewRow:
    """That a listener heard something for so long at such a level."""
    content = {
        "listener_id": listener_id,
        "session_id": session_id,
        "heard_ms": heard_ms,
        "level_dba_hundredths": level_dba_hundredths,
    }
    return new_row("exposures", "exposure", content)


def counting_session(casebook: Casebook, plan_id: str, listener_id: str) -> SessionRecord | None:
    """The session of a listener in a plan that counts, if it is begun."""
    sql = "SELECT * FROM sessions WHERE plan_id = ? AND listener_id = ? AND rehearsal IS NULL"
    rows = casebook.query(sql, [plan_id, listener_id])
    return session_record(rows[0]) if rows else None


def sessions(casebook: Casebook, plan_id: str, *, rehearsals: bool = False) -> list[SessionRecord]:
    """The sessions of a plan that count, or its rehearsals, in the order they were begun."""
    rows = casebook.query(
        f"SELECT * FROM sessions WHERE id IN ({_OF_PLAN}) ORDER BY seq", _plan(plan_id, rehearsals=rehearsals)
    )
    return [session_record(row) for row in rows]


def first_row(casebook: Casebook, plan_id: str) -> int | None:
    """The place in the chain of a plan's first session that counts; None before there is one."""
    rows = casebook.query("SELECT min(seq) AS row FROM sessions WHERE plan_id = ? AND rehearsal IS NULL", [plan_id])
    return None if rows[0]["row"] is None else int(rows[0]["row"])


def course(casebook: Casebook, session_id: str) -> SessionCourse:
    """Where in the chain a session's trials lie; it ends complete, or abandoned."""
    [first] = casebook.query("SELECT min(seq) AS row FROM trials WHERE session_id = ?", [session_id])
    answers = casebook.query(
        "SELECT answers.seq AS row FROM answers JOIN trials ON trials.id = trial_id WHERE session_id = ? ORDER BY row",
        [session_id],
    )
    [end] = casebook.query(
        "SELECT min(seq) AS row FROM session_marks WHERE session_id = ? AND what IN (?, 'abandoned')",
        [session_id, COMPLETE],
    )
    return SessionCourse(first["row"], tuple(one["row"] for one in answers), end["row"])


def session_record(row: Row) -> SessionRecord:
    """The record that a row of `sessions` holds."""
    return documents.from_plain(row, SessionRecord)


def marks(casebook: Casebook, plan_id: str, *, rehearsals: bool = False) -> list[MarkRecord]:
    """The turns of a plan's sessions, in their order."""
    rows = casebook.query(
        f"SELECT session_id, at, what, note FROM session_marks WHERE session_id IN ({_OF_PLAN}) ORDER BY seq",
        _plan(plan_id, rehearsals=rehearsals),
    )
    return [MarkRecord(**row) for row in rows]


def is_complete(casebook: Casebook, session_id: str) -> bool:
    """Whether a session has come to its end."""
    sql = "SELECT 1 FROM session_marks WHERE session_id = ? AND what = ?"
    return bool(casebook.query(sql, [session_id, COMPLETE]))


def complete_sessions(casebook: Casebook, plan_id: str) -> int:
    """How many of a plan's counting sessions have come to their end."""
    # each session is looked up by its mark: where a panel ends in one moment, this is asked for every listener
    sql = """SELECT count(*) AS n FROM session_marks CROSS JOIN sessions ON sessions.id = session_id
             WHERE what = ? AND plan_id = ? AND rehearsal IS NULL"""
    return int(casebook.query(sql, [COMPLETE, plan_id])[0]["n"])


def abandon_unfinished(casebook: Casebook, plan_id: str, why: str) -> None:
    """Mark the counting sessions of a plan that came to no end as abandoned."""
    ended = {mark.session_id for mark in marks(casebook, plan_id) if mark.what in (COMPLETE, "abandoned")}
    unfinished = [one.id for one in sessions(casebook, plan_id) if one.id not in ended]
    casebook.append_many([new_mark(session_id, "abandoned", why) for session_id in unfinished])


def trials_of_session(casebook: Casebook, session_id: str) -> list[TrialRecord]:
    """Every offer of every trial of a session."""
    return _trials(casebook, "= :session", {"session": session_id})


def trials(casebook: Casebook, plan_id: str, *, rehearsals: bool = False) -> list[TrialRecord]:
    """Every offer of every trial of a plan's sessions, in the order of the trials and their offers."""
    return _trials(casebook, f"IN ({_OF_PLAN})", _plan(plan_id, rehearsals=rehearsals))


def progress(casebook: Casebook) -> list[Progress]:
    """How far the counting sessions of all plans have come, in the order they were begun."""
    rows = casebook.query(
        """SELECT plan_id, listener_id,
           (SELECT count(*) FROM trials JOIN answers ON answers.trial_id = trials.id
            WHERE trials.session_id = sessions.id) AS answered,
           EXISTS (SELECT 1 FROM session_marks WHERE session_id = sessions.id AND what = ?) AS complete
           FROM sessions WHERE rehearsal IS NULL AND plan_id IS NOT NULL ORDER BY seq""",
        [COMPLETE],
    )
    return [Progress(**row | {"complete": bool(row["complete"])}) for row in rows]


def answered(casebook: Casebook, session_id: str) -> int:
    """How many trials of a session are answered."""
    sql = "SELECT count(*) AS n FROM answers JOIN trials ON trials.id = trial_id WHERE session_id = ?"
    return int(casebook.query(sql, [session_id])[0]["n"])


def practised(casebook: Casebook, plan_id: str, listener_id: str) -> list[tuple[int, str, str]]:
    """Each trial that a listener answered in practice of a plan: in which row of the chain, when, in which session."""
    rows = casebook.query(
        """SELECT answers.seq AS row, answers.at, session_id FROM answers JOIN trials ON trials.id = trial_id
           JOIN sessions ON sessions.id = session_id
           WHERE plan_id = ? AND listener_id = ? AND json_extract(rehearsal, '$.kind') = 'practice'
           ORDER BY answers.seq""",
        [plan_id, listener_id],
    )
    return [(row["row"], row["at"], row["session_id"]) for row in rows]


def auditions(casebook: Casebook, plan_id: str, *, rehearsals: bool = False) -> list[AuditionRecord]:
    """What was heard in a plan's sessions, in its order."""
    rows = casebook.query(
        f"""SELECT trial_id, stimulus, from_frame, to_frame FROM auditions JOIN trials ON trials.id = trial_id
            WHERE session_id IN ({_OF_PLAN}) ORDER BY auditions.seq""",
        _plan(plan_id, rehearsals=rehearsals),
    )
    return [AuditionRecord(**row) for row in rows]


def heard_in(casebook: Casebook, trial_id: str) -> set[str]:
    """The stimuli of which something was heard in an offer of a trial, by the identifier of its row."""
    rows = casebook.query("SELECT DISTINCT stimulus FROM auditions WHERE trial_id = ?", [trial_id])
    return {str(row["stimulus"]) for row in rows}


def faults(casebook: Casebook, session_id: str) -> list[FaultRecord]:
    """The playback faults of a session, in their order."""
    rows = casebook.query(
        """SELECT faults.at, trial, kind, count FROM faults LEFT JOIN trials ON trials.id = trial_id
           WHERE faults.session_id = ? ORDER BY faults.seq""",
        [session_id],
    )
    return [FaultRecord(**row) for row in rows]


def exposures(casebook: Casebook, listener_id: str) -> list[ExposureRecord]:
    """All that a listener heard at a known level."""
    rows = casebook.query(
        "SELECT at, heard_ms, level_dba_hundredths FROM exposures WHERE listener_id = ?", [listener_id]
    )
    return [documents.from_plain(row, ExposureRecord) for row in rows]


def _trials(casebook: Casebook, session: str, parameters: Mapping[str, Any]) -> list[TrialRecord]:
    rows = casebook.query(
        f"""SELECT trials.id, session_id, trials.trial, offer, passage_id, trials.at, answer, sureness, after_ms,
            CASE trials.key WHEN 'null' THEN ifnull(keys.key, 'null') ELSE trials.key END AS key,
            (SELECT count(*) FROM faults WHERE faults.trial_id = trials.id) AS faults
            FROM trials LEFT JOIN answers ON answers.trial_id = trials.id LEFT JOIN keys ON keys.trial_id = trials.id
            WHERE session_id {session}
            ORDER BY trials.trial, offer""",
        parameters,
    )
    return [TrialRecord(**row | {"key": documents.value_of(row["key"])}) for row in rows]


def _plan(plan_id: str, *, rehearsals: bool) -> dict[str, Any]:
    return {"plan": plan_id, "rehearsals": int(rehearsals)}
