"""What only all plans of a review can say: plans on the same question, and the review's primary questions. Pure.

Whoever asks a question often enough hears something by chance. So a plan that has sisters on its question (the same
method and the same setups) is heard only where it is heard with Holm's correction for all of them, primary or not; and
the review's primary questions share one error rate beside that. A plan counts in both from the moment it is sealed:
while there is nothing that could count in it (not begun, running, undecided, void) it stands there with a p-value of 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from stats.count_summary import HEARD, NOT_SHOWN
from stats.holm import holm

from .verdict import SameQuestion, Together, Verdict


def judged_together(verdicts: Sequence[Verdict]) -> list[Verdict]:
    """The verdicts of a review with what only all of them can say."""
    primary = [one for one in verdicts if one.plan.primary]
    adjusted = dict(zip((one.plan.id for one in primary), _holm(primary), strict=True))
    found = []
    for one in verdicts:
        sisters = [other for other in verdicts if _same_question(one, other)]
        own = _with_sisters(one, sisters)
        if len(primary) > 1 and one.plan.id in adjusted and _has_test(one):
            p_holm = adjusted[one.plan.id]
            holds = own.verdict == HEARD and p_holm <= one.plan.alpha
            assert own.together is not None
            together = replace(own.together, primary_plans=len(primary), p_holm=p_holm, holds=holds)
            own = replace(own, together=together)
        found.append(own)
    return found


def _with_sisters(one: Verdict, sisters: Sequence[Verdict]) -> Verdict:
    """The verdict corrected for the plans that ask the same question."""
    together = Together(tuple(_brief(other) for other in sisters))
    if not sisters or not _has_test(one):
        return replace(one, together=together)
    p_value = _holm([one, *sisters])[0]
    lost = one.verdict == HEARD and p_value > one.plan.alpha
    together = replace(together, p_same_question=p_value, alone=one.verdict)
    return replace(one, together=together, verdict=NOT_SHOWN if lost else one.verdict)


def _has_test(one: Verdict) -> bool:
    return one.p_value is not None and one.verdict in (HEARD, NOT_SHOWN)


def _holm(verdicts: Sequence[Verdict]) -> list[float]:
    return holm([1.0 if one.p_value is None or not _has_test(one) else one.p_value for one in verdicts])


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
        p_value=other.p_value if _has_test(other) else None,
    )
