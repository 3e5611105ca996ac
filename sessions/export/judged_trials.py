"""Every answered trial of the plans that are over, one row each, with its key and score: what statistics are made from.

A plan that is not over, or was given up, has no row here; nor have rehearsals.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ..casebook import hash_chain
from ..casebook.session_rows import ALL_COMPLETE
from ..casebook.store import Casebook
from ..plans import plan_rows
from ..plans.methods.counted import CountedMethod
from ..plans.methods.method import TIE, Key
from ..plans.plan import Plan, void_reasons
from ..results import plan_record
from ..results.plan_record import Session, Trial

NAME = "judged_trials"
COUNTS, CONTROL, KNOWN = "counts", "control", "known difference"
PLANNED, BOUNDARY, CLOSED = "as planned", "boundary", "closed early"
COLUMNS = (
    ("casebook", "text", "", "identifier of the casebook it was exported from"),
    ("plan_id", "text", "", "the sealed plan"),
    ("plan", "text", "", "the plan's name"),
    ("method", "text", "", "the plan's method"),
    ("setups", "text", "", "names of the plan's setups in its order, with | between"),
    ("question", "text", "", "what the plan asks"),
    ("session_id", "text", "", "the session"),
    ("listener_id", "text", "", "the listener"),
    ("passage_id", "text", "", "the passage that was played"),
    ("trial", "whole number", "", "number of the trial in the session, from 1"),
    ("offer", "whole number", "", "the how-manieth time it was offered, from 1"),
    ("kind", "text", "", "counts; control: all stimuli were one setup; known difference"),
    (
        "void",
        "whole number",
        "",
        "1: the plan is void by itself (levels, giveaways), so that nothing of it counts; else 0",
    ),
    ("ended", "text", "", "as planned; boundary: a sequential plan, whose rule stopped it; closed early"),
    ("key", "text", "", "which setup each label was, by its place in the plan from 0 (JSON)"),
    ("answer", "text", "", "what the listener answered, in the labels of the method (grades: JSON)"),
    (
        "score",
        "whole number",
        "",
        "1 right, or the plan's first setup preferred; 0 not; empty where nothing is counted",
    ),
    ("chance", "number", "share", "how often guessing scores 1; empty where nothing is counted"),
    ("sureness", "whole number", "1 to 4", "how sure the listener was: 1 a guess, 4 certain"),
    ("after_ms", "whole number", "ms", "time from when the trial could be heard to the answer"),
    ("offered_at", "text", "UTC", "when the trial was offered, ISO 8601"),
)
"""Name, type, unit and meaning of each column."""

Values = tuple[Any, ...]


def values(casebook: Casebook) -> Iterator[Values]:
    """The rows, plan by plan in the order of sealing."""
    own = casebook.head()["id"]
    for sealed in plan_rows.every_sealed(casebook):
        record = plan_record.record(casebook, sealed)
        if record.secret is None:
            continue
        plan = record.plan
        ended = CLOSED if record.ended != ALL_COMPLETE else PLANNED if plan.sequential is None else BOUNDARY
        judged = int(bool(void_reasons(plan))), ended
        for session in record.sessions:
            for trial in session.trials:
                if trial.answer is not None:
                    yield (own, *_of_trial(plan, judged, session, trial))


def _of_trial(plan: Plan, judged: tuple[int, str], session: Session, trial: Trial) -> Values:
    kind = CONTROL if plan.is_control(trial.key) else KNOWN if plan.is_known(trial.key) else COUNTS
    score = _score(plan, trial.key, trial.answer or "") if kind == COUNTS else None
    return (
        plan.id,
        plan.name,
        plan.method.name,
        "|".join(setup.name for setup in plan.setups),
        plan.document["question"],
        session.session,
        session.listener,
        trial.passage,
        trial.trial,
        trial.offer,
        kind,
        *judged,
        hash_chain.canonical(trial.key),
        trial.answer,
        score,
        None if score is None else plan.chance,
        trial.sureness,
        trial.after_ms,
        trial.at,
    )


def _score(plan: Plan, key: Key, answer: str) -> int | None:
    """1 or 0; None for a tie, and where answers are not counted."""
    if not isinstance(plan.method, CountedMethod) or answer == TIE:
        return None
    return plan.counted.score(key, answer)
