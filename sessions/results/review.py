"""Verdicts of a casebook: its plans' records, judged together with the check of the casebook itself.

Plans stand together in two ways: the review's primary questions share one error rate (Holm), and plans that ask the
same question again are always named with each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from stats.holm import holm

from ..casebook.store import Casebook, Row
from ..plans import drafting
from . import verification
from .plan_record import record
from .verdict import HEARD, Verdict, judge


def plans(casebook: Casebook, name: str | None) -> list[Row]:
    """The sealed plan of that name, or all of them."""
    if name is not None:
        return [drafting.sealed_row(casebook, name)]
    return casebook.query("SELECT * FROM plans ORDER BY seq")


def verdicts(casebook: Casebook, name: str | None, *, rehearsals: bool = False) -> list[Verdict]:
    """The verdict of each plan asked for; void wherever the casebook's record does not hold."""
    broken = verification.verify(casebook).broken
    wanted = {row["id"] for row in plans(casebook, name)}
    if rehearsals:
        return [
            judge(record(casebook, row, rehearsals=True), broken=broken)
            for row in plans(casebook, name)
            if _rehearsed(casebook, row)
        ]
    every = together([judge(record(casebook, row), broken=broken) for row in plans(casebook, None)])
    return [one for one in every if one.plan.id in wanted]


def together(every: Sequence[Verdict]) -> list[Verdict]:
    """The verdicts of a review with what only all of them can say."""
    primary = [one for one in every if one.plan.primary and one.p_value is not None]
    adjusted = dict(zip((one.plan.id for one in primary), holm([one.p_value or 0.0 for one in primary]), strict=True))
    told = []
    for one in every:
        found: dict[str, object] = {"same_question": [_brief(other) for other in every if _same_question(one, other)]}
        if len(primary) > 1 and one.plan.id in adjusted:
            found |= {"primary_plans": len(primary), "p_holm": adjusted[one.plan.id]}
            found["holds"] = one.verdict == HEARD and adjusted[one.plan.id] <= one.plan.alpha
        told.append(replace(one, together=found))
    return told


def _same_question(one: Verdict, other: Verdict) -> bool:
    if one.plan.id == other.plan.id or one.plan.method.name != other.plan.method.name:
        return False
    mine, theirs = ({setup.id for setup in plan.setups} for plan in (one.plan, other.plan))
    return mine == theirs


def _brief(other: Verdict) -> dict[str, object]:
    return {
        "plan": other.plan.name,
        "verdict": other.verdict,
        "state": other.state,
        "correct": other.correct,
        "trials": other.trials,
        "p_value": other.p_value,
    }


def _rehearsed(casebook: Casebook, row: Row) -> bool:
    sql = "SELECT 1 FROM sessions WHERE plan_id = ? AND rehearsal IS NOT NULL"
    return bool(casebook.query(sql, [row["id"]]))
