"""What only all plans of a review can say: plans on the same question, and the review's primary questions. Pure.

Whoever asks a question often enough hears something by chance. So a plan that has sisters on its question (the same
method and the same setups) is heard only where it is heard together with all of them, primary or not; and the review's
primary questions share one error rate beside that. The order of sealing decides, never the end of the evening:

- Plans that were sealed before any of them was begun stand in one stage: Holm's correction among them.
- A plan sealed after one of them was begun stands in a later stage: it holds only where every plan of the stages before
  it holds too, so its p-value is the largest of its own and theirs (a fixed sequence of families: Maurer, Hothorn and
  Lehmacher 1995; Westfall and Krishen 2001; both from memory).

Whatever is added in the end, the chance that guessing is ever said to be heard stays at alpha: the first stage spends
all of it, and a later one is only reached where nothing before it was in error. A plan counts from the moment it is
sealed; while there is nothing that could count in it (not begun, running, undecided, void by its record) it stands
there with a p-value of 1. What could never have counted takes no part: a plan void by itself, or over
without an answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from stats.count_summary import HEARD, NOT_SHOWN
from stats.holm import holm

from ..plans.plan import void_reasons
from .verdict import CLOSED_EARLY, SameQuestion, Together, Verdict


@dataclass(frozen=True)
class _Standing:
    """A plan within its family: its corrected p-value, and the plans before it that keep it from holding."""

    p_value: float
    held_back_by: tuple[str, ...]


def judged_together(verdicts: Sequence[Verdict]) -> list[Verdict]:
    """The verdicts of a review with what only all of them can say."""
    primary = [one for one in verdicts if one.plan.primary]
    among_primary = _standings(primary)
    found = []
    for one in verdicts:
        own = _with_sisters(one, [other for other in verdicts if _same_question(one, other)])
        standing = among_primary.get(one.plan.id)
        if len(primary) > 1 and standing is not None and _has_test(one):
            holds = own.verdict == HEARD and standing.p_value <= one.plan.alpha
            assert own.together is not None
            together = replace(
                own.together,
                primary_plans=len(primary),
                p_holm=standing.p_value,
                holds=holds,
                primary_before=standing.held_back_by,
            )
            own = replace(own, together=together)
        found.append(own)
    return found


def _with_sisters(one: Verdict, sisters: Sequence[Verdict]) -> Verdict:
    """The verdict corrected for the plans that ask the same question."""
    together = Together(tuple(_brief(other) for other in sisters))
    standing = _standings([one, *sisters]).get(one.plan.id)
    if not sisters or standing is None or not _has_test(one):
        return replace(one, together=together)
    lost = one.verdict == HEARD and standing.p_value > one.plan.alpha
    together = replace(
        together, p_same_question=standing.p_value, alone=one.verdict, asked_before=standing.held_back_by
    )
    return replace(one, together=together, verdict=NOT_SHOWN if lost else one.verdict)


def _standings(family: Sequence[Verdict]) -> dict[str, _Standing]:
    """By plan, how each stands in the family; those that could never have counted are left out."""
    found: dict[str, _Standing] = {}
    reached, not_held = 0.0, tuple[str, ...]()
    for stage in _stages([one for one in family if _takes_part(one)]):
        adjusted = [max(reached, p_value) for p_value in holm([_p_value(one) for one in stage])]
        found |= {one.plan.id: _Standing(p, not_held) for one, p in zip(stage, adjusted, strict=True)}
        reached = max(adjusted)
        not_held += tuple(
            one.plan.name for one, p_value in zip(stage, adjusted, strict=True) if p_value > one.plan.alpha
        )
    return found


def _stages(family: Sequence[Verdict]) -> list[list[Verdict]]:
    """The family in the order of sealing, parted wherever a plan was sealed after an earlier one was begun."""
    stages: list[list[Verdict]] = []
    for one in sorted(family, key=lambda one: one.sealed_row):
        begun = [other.begun_row for stage in stages for other in stage if other.begun_row is not None]
        parted_at = stages[-1][0].sealed_row if stages else 0
        if not stages or any(parted_at < row < one.sealed_row for row in begun):
            stages.append([])
        stages[-1].append(one)
    return stages


def _takes_part(one: Verdict) -> bool:
    return not void_reasons(one.plan) and not (one.state == CLOSED_EARLY and one.outcome is None)


def _has_test(one: Verdict) -> bool:
    return one.p_value is not None and one.verdict in (HEARD, NOT_SHOWN)


def _p_value(one: Verdict) -> float:
    return 1.0 if one.p_value is None or not _has_test(one) else one.p_value


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
