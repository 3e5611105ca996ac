"""What a record must hold of its sessions' turns, whoever recomputed its chain: counters, marks, why a plan ended.

It finds rows that were taken out where others show that they were there. What nothing else shows (a turn taken out with
its counters, a pause, the words of a reason) it cannot find: only an end of the chain that somebody kept does.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ..casebook.inspection import Inspected
from ..casebook.session_rows import ALL_COMPLETE
from ..casebook.store import Row
from .plan_record import PlanRecord, Session

BEGINNINGS = ("begun", "taken up")


def faults(found: Inspected) -> list[str]:
    """Sessions without their beginning, and beginnings without their counters or counters without theirs."""
    chain = {row["seq"]: (table, row) for table, row in found.chained}
    counted = _counted_from(found)
    turns = [row for row in found.rows["session_marks"] if row["what"] in BEGINNINGS]
    missing = list[str]()
    for row in found.rows["counters"]:
        table, mark = chain.get(row["seq"] + 1, ("", {}))
        if table != "session_marks" or mark["what"] not in BEGINNINGS or mark["session_id"] != row["session_id"]:
            missing.append(f"after the counters of row {row['seq']} the turn is missing that they were written for")
    counts = {row["id"] for row in found.rows["sessions"] if row["rehearsal"] is None}
    for mark in turns:
        table, before = chain.get(mark["seq"] - 1, ("", {}))
        has = table == "counters" and before["session_id"] == mark["session_id"]
        if mark["session_id"] in counts and mark["seq"] >= counted and not has:
            missing.append(f"before row {mark['seq']}, a session {mark['what']}, its counters are missing")
    begun = {mark["session_id"] for mark in turns if mark["what"] == "begun"}
    for row in found.rows["sessions"]:
        if row["id"] in counts - begun:
            missing.append(f"the session of row {row['seq']} has no turn in which it was begun")
    return missing


def _counted_from(found: Inspected) -> float:
    """The first row by which sessions had counters: of counters, or of a turn after which a trial was kept as now.

    Trials were written with their keys before there were counters, and in no casebook of that time again.
    """
    rows = [float(row["seq"]) for row in found.rows["counters"]]
    without_key: dict[str, list[int]] = {}
    for trial in found.rows["trials"]:
        if trial["key"] == "null":
            without_key.setdefault(trial["session_id"], []).append(trial["seq"])
    rows += _turns_before(found.rows["session_marks"], without_key)
    return min(rows, default=float("inf"))


def _turns_before(marks: Sequence[Row], trials: Mapping[str, Sequence[int]]) -> Iterator[float]:
    """The newest beginning before the first of each session's trials."""
    for session_id, places in trials.items():
        before = [
            mark["seq"]
            for mark in marks
            if mark["session_id"] == session_id and mark["what"] in BEGINNINGS and mark["seq"] < min(places)
        ]
        yield float(max(before, default=min(places)))


def end_faults(record: PlanRecord) -> list[str]:
    """Sessions that are complete and do not say so, or say so and are not; and a plan that ended otherwise."""
    missing = []
    for own in record.sessions:
        done = _came_to_its_end(record, own)
        if done is not None and done != own.is_complete:
            says = "says that it is complete and is not" if own.is_complete else "is complete and does not say so"
            missing.append(f"the session of {own.listener_name} {says}: a row is missing, or one was put in")
    whole = len(record.sessions) == len(record.plan.listeners) and all(own.is_complete for own in record.sessions)
    if whole and record.ended is None:
        missing.append("all its sessions are complete, and its opening is missing")
    elif record.ended is not None and whole != (record.ended == ALL_COMPLETE):
        missing.append(f"it did not end as its opening says ({record.ended})")
    return missing


def _came_to_its_end(record: PlanRecord, own: Session) -> bool | None:
    """Whether a session's answers brought it to its end; None where that depends on keys that are not told."""
    plan = record.plan
    if own.answered >= plan.slots:
        return True
    if plan.sequential is None:
        return False
    given = [trial for trial in own.trials if trial.answer is not None]
    if len(given) < own.answered or not all(trial.key for trial in given):
        return None
    right = [plan.counted.score(one.key, one.answer or "") for one in given if plan.counts(one.key)]
    return plan.sequential.boundaries.decision(len(right), sum(right)) is not None
