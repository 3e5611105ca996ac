"""The record of a plan: all that a stranger needs to check its result. Of the results room, the only SQL is here.

Before the plan is over the record holds neither key nor answers nor secret: only the plan, its seal and how far it is.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ..casebook import documents
from ..casebook.store import Casebook, Row
from ..plans import plan_rows
from ..plans.methods.method import Key
from ..plans.plan import Plan
from ..plans.plan_rows import SealedPlan


@dataclass(frozen=True)
class Turn:
    """A turn of a session: begun, paused, resumed, stopped, taken up, complete, abandoned."""

    at: str
    what: str
    note: str


@dataclass(frozen=True)
class Audition:
    """One stretch in which the listener heard one stimulus, in frames of the passage."""

    stimulus: str
    from_frame: int
    to_frame: int


@dataclass(frozen=True)
class Trial:
    """One trial as it was offered; answer, sureness and time are None where it was not answered."""

    trial: int
    offer: int
    passage: str
    passage_name: str
    key: Key
    answer: str | None
    sureness: int | None
    after_ms: int | None
    faults: int
    at: str
    auditions: tuple[Audition, ...]


@dataclass(frozen=True)
class Session:
    """One listener's session; its trials are told only once the plan is over (of a rehearsal, at any time)."""

    session: str
    listener: str
    listener_name: str
    operator: str
    device: str
    rehearsal: Mapping[str, Any] | None
    begun_at: str
    marks: tuple[Turn, ...]
    answered: int
    faults: int
    trials: tuple[Trial, ...]

    @property
    def is_complete(self) -> bool:
        """Whether it came to its end."""
        return any(turn.what == "complete" for turn in self.marks)


@dataclass(frozen=True)
class PlanRecord:
    """A plan with its seal, its sessions and, once it is over, its secret."""

    plan: Plan
    seal: str
    sealed_at: str
    secret: str | None
    opened_at: str | None
    ended: str | None
    rehearsal: bool
    sessions: tuple[Session, ...]
    chain_head: str = field(default="")

    def to_document(self) -> dict[str, Any]:
        """The record as the command line prints it; the plan stands in it as the text that was sealed."""
        return {**documents.plain({k: v for k, v in self.__dict__.items() if k != "plan"}), "plan": self.plan.text}


def record(casebook: Casebook, sealed: SealedPlan, *, rehearsals: bool = False) -> PlanRecord:
    """The record of a sealed plan.

    Parameters
    ----------
    rehearsals
        False: the sessions that count, told once the plan is over. True: the rehearsals instead, told at any time.
    """
    plan = sealed.plan
    opened = plan_rows.opening(casebook, plan.id)
    return PlanRecord(
        plan=plan,
        seal=sealed.seal,
        sealed_at=sealed.at,
        secret=opened.secret if opened else None,
        opened_at=opened.at if opened else None,
        ended=opened.why if opened else None,
        rehearsal=rehearsals,
        sessions=_sessions(casebook, plan, rehearsals=rehearsals, told=rehearsals or opened is not None),
        chain_head=casebook.head()["head_hash"],
    )


@dataclass(frozen=True)
class KeptKey:
    """A key as it stands in the casebook while its plan runs: for checking, never for anyone's eyes."""

    listener: str
    trial: int
    offer: int
    key: Key


def keys_before_opening(casebook: Casebook, plan_id: str) -> list[KeptKey]:
    """The keys of a running plan's trials."""
    rows = casebook.query(
        """SELECT listener_id AS listener, trial, offer, key FROM trials JOIN sessions ON sessions.id = session_id
           WHERE plan_id = ? AND rehearsal IS NULL""",
        [plan_id],
    )
    return [KeptKey(**row | {"key": json.loads(row["key"])}) for row in rows]


def trial_ids(casebook: Casebook, plan_id: str) -> list[str]:
    """The identifiers of the rows of a plan's trials, rehearsals among them."""
    rows = casebook.query(
        "SELECT trials.id FROM trials JOIN sessions ON sessions.id = session_id WHERE plan_id = ?", [plan_id]
    )
    return [row["id"] for row in rows]


def blind_labels(casebook: Casebook, plan_id: str) -> dict[tuple[str, str], int]:
    """For each trial (by its row's identifier) and label of a plan the place that was heard; once it is over only."""
    rows = casebook.query(
        "SELECT trials.id, key FROM trials JOIN sessions ON sessions.id = session_id WHERE plan_id = ?", [plan_id]
    )
    return {(row["id"], label): place for row in rows for label, place in json.loads(row["key"]).items()}


def _sessions(casebook: Casebook, plan: Plan, *, rehearsals: bool, told: bool) -> tuple[Session, ...]:
    own = f"plan_id = ? AND rehearsal IS {'NOT ' if rehearsals else ''}NULL"
    within = f"SELECT id FROM sessions WHERE {own}"
    marks = casebook.query(
        f"SELECT session_id, at, what, note FROM session_marks WHERE session_id IN ({within}) ORDER BY seq", [plan.id]
    )
    trials = casebook.query(
        f"""SELECT session_id, trials.id, trials.trial, offer, passage_id, key, trials.at, answer, sureness, after_ms,
            (SELECT count(*) FROM faults WHERE faults.trial_id = trials.id) AS faults
            FROM trials LEFT JOIN answers ON answers.trial_id = trials.id WHERE session_id IN ({within})
            ORDER BY trials.trial, offer""",
        [plan.id],
    )
    auditions: list[Row] = []
    if told:
        auditions = casebook.query(
            f"""SELECT trial_id, stimulus, from_frame, to_frame FROM auditions JOIN trials ON trials.id = trial_id
                WHERE session_id IN ({within}) ORDER BY auditions.seq""",
            [plan.id],
        )
    rows = casebook.query(
        f"""SELECT sessions.*, listeners.name AS listener_name FROM sessions
            JOIN listeners ON listeners.id = listener_id WHERE {own} ORDER BY seq""",
        [plan.id],
    )
    turns, offered, heard = (
        _grouped(marks, "session_id"),
        _grouped(trials, "session_id"),
        _grouped(auditions, "trial_id"),
    )
    names = {passage.id: passage.name for passage in plan.passages}
    return tuple(
        Session(
            session=row["id"],
            listener=row["listener_id"],
            listener_name=row["listener_name"],
            operator=row["operator"],
            device=row["device"],
            rehearsal=json.loads(row["rehearsal"]) if row["rehearsal"] else None,
            begun_at=row["at"],
            marks=tuple(Turn(mark["at"], mark["what"], mark["note"]) for mark in turns[row["id"]]),
            answered=sum(trial["answer"] is not None for trial in offered[row["id"]]),
            faults=sum(trial["faults"] for trial in offered[row["id"]]),
            trials=tuple(_trial(trial, heard[trial["id"]], names) for trial in offered[row["id"]]) if told else (),
        )
        for row in rows
    )


def _trial(row: Row, auditions: Sequence[Row], names: Mapping[str, str]) -> Trial:
    return Trial(
        trial=row["trial"],
        offer=row["offer"],
        passage=row["passage_id"],
        passage_name=names.get(row["passage_id"], row["passage_id"]),
        key=json.loads(row["key"]),
        answer=row["answer"],
        sureness=row["sureness"],
        after_ms=row["after_ms"],
        faults=row["faults"],
        at=row["at"],
        auditions=tuple(Audition(one["stimulus"], one["from_frame"], one["to_frame"]) for one in auditions),
    )


def _grouped(rows: Sequence[Row], by: str) -> Mapping[str, list[Row]]:
    groups: defaultdict[str, list[Row]] = defaultdict(list)
    for row in rows:
        groups[row[by]].append(row)
    return groups
