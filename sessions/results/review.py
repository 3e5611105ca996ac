"""A review: all plans of a casebook, each parsed, verified and judged once, alone and together.

Plans stand together in two ways: the review's primary questions share one error rate (Holm), and plans that ask the
same question again are always named with each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from stats.holm import holm

from ..casebook.store import Casebook
from ..plans import plan_rows
from ..plans.plan_rows import SealedPlan
from . import plan_record, verification
from .plan_record import PlanRecord
from .verdict import HEARD, SameQuestion, Together, Verdict, judge
from .verification import Verified


@dataclass(frozen=True)
class ReviewedPlan:
    """A sealed plan with its record and verdict, and those of its newest rehearsal, if there is one."""

    sealed: SealedPlan
    record: PlanRecord
    verdict: Verdict
    rehearsal_record: PlanRecord | None = None
    rehearsal: Verdict | None = None


@dataclass(frozen=True)
class Review:
    """All plans of a casebook, and what the check of the casebook found."""

    plans: tuple[ReviewedPlan, ...]
    checked: Verified


def review(casebook: Casebook, *, rehearsals: bool = False) -> Review:
    """Every plan of a casebook judged, and on request its newest rehearsal; void wherever the record does not hold."""
    sealed = plan_rows.every_sealed(casebook)
    records = {each.plan.id: plan_record.record(casebook, each) for each in sealed}
    checked = verification.verify(casebook, records=records)
    verdicts = judged_together([judge(record, broken=checked.broken) for record in records.values()])
    plans = []
    for each, verdict in zip(sealed, verdicts, strict=True):
        practised = plan_record.record(casebook, each, rehearsals=True) if rehearsals else None
        if practised is None or not practised.sessions:
            plans.append(ReviewedPlan(each, records[each.plan.id], verdict))
            continue
        rehearsal = judge(practised, broken=checked.broken)
        plans.append(ReviewedPlan(each, records[each.plan.id], verdict, practised, rehearsal))
    return Review(tuple(plans), checked)


def judged_together(verdicts: Sequence[Verdict]) -> list[Verdict]:
    """The verdicts of a review with what only all of them can say."""
    primary = [one for one in verdicts if one.plan.primary and one.p_value is not None]
    adjusted = dict(zip((one.plan.id for one in primary), holm([one.p_value or 0.0 for one in primary]), strict=True))
    found = []
    for one in verdicts:
        together = Together(tuple(_brief(other) for other in verdicts if _same_question(one, other)))
        if len(primary) > 1 and one.plan.id in adjusted:
            p_holm = adjusted[one.plan.id]
            holds = one.verdict == HEARD and p_holm <= one.plan.alpha
            together = replace(together, primary_plans=len(primary), p_holm=p_holm, holds=holds)
        found.append(replace(one, together=together))
    return found


def _same_question(one: Verdict, other: Verdict) -> bool:
    if one.plan.id == other.plan.id or one.plan.method.name != other.plan.method.name:
        return False
    mine, theirs = ({setup.id for setup in plan.setups} for plan in (one.plan, other.plan))
    return mine == theirs


def _brief(other: Verdict) -> SameQuestion:
    count = other.count
    return SameQuestion(
        plan=other.plan.name,
        verdict=other.verdict,
        state=other.state,
        correct=None if count is None else count.correct,
        trials=other.trials,
        p_value=other.p_value,
    )
