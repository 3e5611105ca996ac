"""The record of a plan: all that a stranger needs to check its result, as one JSON document.

Before the plan is over the record holds neither key nor answers nor secret: only the plan, its seal and how far it is.
"""

from __future__ import annotations

import json
from typing import Any

from ..casebook.store import Casebook, Row
from ..plans import drafting
from ..plans.plan import Plan


def record(casebook: Casebook, row: Row, *, rehearsals: bool = False) -> dict[str, Any]:
    """The record of a sealed plan.

    Parameters
    ----------
    row
        The plan's row.
    rehearsals
        False: the sessions that count, told once the plan is over. True: the rehearsals instead, told at any time.
    """
    opened = drafting.opening(casebook, row["id"])
    kind = "IS NOT NULL" if rehearsals else "IS NULL"
    sessions = casebook.query(
        f"SELECT * FROM sessions WHERE plan_id = ? AND rehearsal {kind} ORDER BY seq", [row["id"]]
    )
    told = rehearsals or opened is not None
    return {
        "plan": row["document"],
        "seal": row["seal"],
        "sealed_at": row["at"],
        "secret": opened["secret"] if opened else None,
        "opened_at": opened["at"] if opened else None,
        "ended": opened["why"] if opened else None,
        "rehearsal": rehearsals,
        "sessions": [_session(casebook, Plan.from_text(row["document"]), session, told) for session in sessions],
        "chain_head": casebook.head()["head_hash"],
    }


def _session(casebook: Casebook, plan: Plan, session: Row, told: bool) -> dict[str, Any]:
    marks = casebook.query(
        "SELECT at, what, note FROM session_marks WHERE session_id = ? ORDER BY seq", [session["id"]]
    )
    listener = casebook.query("SELECT name FROM listeners WHERE id = ?", [session["listener_id"]])[0]["name"]
    trials = casebook.query(
        """SELECT trials.id, trials.trial, offer, passage_id, key, trials.at, answer, sureness, after_ms,
           (SELECT count(*) FROM faults WHERE faults.trial_id = trials.id) AS faults
           FROM trials LEFT JOIN answers ON answers.trial_id = trials.id WHERE session_id = ?
           ORDER BY trials.trial, offer""",
        [session["id"]],
    )
    names = {passage.id: passage.name for passage in plan.passages}
    document: dict[str, Any] = {
        "session": session["id"],
        "listener": session["listener_id"],
        "listener_name": listener,
        "operator": session["operator"],
        "device": session["device"],
        "rehearsal": json.loads(session["rehearsal"]) if session["rehearsal"] else None,
        "begun_at": session["at"],
        "marks": marks,
        "answered": sum(1 for trial in trials if trial["answer"] is not None),
        "faults": sum(trial["faults"] for trial in trials),
        "trials": [],
    }
    if told:
        document["trials"] = [
            {
                "trial": trial["trial"],
                "offer": trial["offer"],
                "passage": trial["passage_id"],
                "passage_name": names.get(trial["passage_id"], trial["passage_id"]),
                "key": json.loads(trial["key"]),
                "answer": trial["answer"],
                "sureness": trial["sureness"],
                "after_ms": trial["after_ms"],
                "faults": trial["faults"],
                "at": trial["at"],
                "auditions": casebook.query(
                    "SELECT stimulus, from_frame, to_frame FROM auditions WHERE trial_id = ? ORDER BY seq",
                    [trial["id"]],
                ),
            }
            for trial in trials
        ]
    return document
