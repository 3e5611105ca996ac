"""What only all plans of a review can say: plans on the same question, and the review's primary questions. Pure.

Whoever asks a question often enough hears something by chance. So a plan that has sisters on its question (the same
method and the same setups) is heard only where it is heard together with all of them, primary or not; and the review's
primary questions share one error rate beside that. The order of sealing decides, never the end of the evening:

- Plans that were sealed before any of them was begun stand in one stage: Holm's correction among them.
- A plan sealed after one of them was begun stands in a later stage: it is tested only where every plan of the stages
  before it holds, and has a p-value of 1 otherwise (a fixed sequence of families: Maurer, Hothorn and Lehmacher 1995;
  Westfall and Krishen 2001; both from memory).

A ballot names words, each a claim of its own. Holm's step is for its clearest word alone: by its later steps each plan
would name its further words at a larger share of alpha, and of six ballots with one true and nine empty words each one
review in seven named a false one (simulated). So each word's p-value, corrected over its ballot, is multiplied by the
number of plans in the stage, for the clearest word too (Bonferroni over the plans, Holm within each): false words stay
at alpha in each stage, whatever is true of the others.

Whatever is added in the end, the chance that guessing is ever said to be heard stays at the largest alpha: the first
stage spends all of it, and a later one is only reached where nothing before it was in error. A plan counts from the
moment it is sealed; while there is nothing that could count in it (not begun, running, undecided, closed unanswered,
void by its record) it stands there with a p-value of 1. What could never have counted takes no part: a plan void by
itself, or one that was over before any of them was begun.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stats.count_summary import HEARD, NOT_SHOWN
from stats.holm import holm

from ..plans.order_of_sealing import stages
from ..plans.plan import void_reasons
from .verdict import VOID, PlanBefore, SameQuestion, Together, Verdict


@dataclass(frozen=True)
class _Standing:
    """A plan within its family: its corrected p-value, and the plans before it that keep it from holding."""

    p_value: float
    held_back_by: tuple[PlanBefore, ...]
    in_stage: int


def judged_together(verdicts: Sequence[Verdict]) -> list[Verdict]:
    """The verdicts of a review with what only all of them can say."""
    found = [_with_sisters(one, [other for other in verdicts if _same_question(one, other)]) for one in verdicts]
    standing, left_out = dict[str, Mapping[str, _Standing]](), dict[str, tuple[PlanBefore, ...]]()
    for review in {one.course.review for one in found}:
        primary = [one for one in found if one.plan.primary and one.course.review == review]
        standing[review] = _standings(primary)
        left_out[review] = _left_out(primary, standing[review])
    return [_among_primary(one, standing[one.course.review], left_out[one.course.review]) for one in found]


def _with_sisters(one: Verdict, sisters: Sequence[Verdict]) -> Verdict:
    """The verdict corrected for the plans that ask the same question."""
    standings = _standings([one, *sisters])
    together = Together(tuple(_brief(other) for other in sisters), asked_left_out=_left_out(sisters, standings))
    standing = standings.get(one.plan.id)
    if len(standings) < 2 or standing is None or not _has_test(one):
        return replace(one, together=together)
    lost = one.verdict == HEARD and standing.p_value > one.plan.alpha
    together = replace(
        together,
        p_same_question=standing.p_value,
        alone=one.verdict,
        asked_before=standing.held_back_by,
        asked_stage=standing.in_stage,
    )
    return replace(one, together=together, verdict=NOT_SHOWN if lost else one.verdict)


def _among_primary(one: Verdict, standings: Mapping[str, _Standing], left_out: tuple[PlanBefore, ...]) -> Verdict:
    """The verdict with how it stands among the review's primary questions."""
    standing = standings.get(one.plan.id)
    if standing is None or not one.plan.primary or not _has_test(one) or one.together is None:
        return one
    together = replace(one.together, primary_left_out=left_out)
    if len(standings) < 2:
        return replace(one, together=together)
    holds = _holds(one, standing.p_value)
    together = replace(
        together,
        primary_plans=len(standings),
        p_holm=standing.p_value,
        holds=holds,
        primary_before=standing.held_back_by,
        primary_stage=standing.in_stage,
    )
    return replace(one, together=together)


def _standings(family: Sequence[Verdict]) -> dict[str, _Standing]:
    """By plan, how each stands in the family; those that could never have counted are left out."""
    could = [one for one in family if not void_reasons(one.plan)]
    found: dict[str, _Standing] = {}
    not_held = tuple[PlanBefore, ...]()
    for places in stages([one.course for one in could]):
        stage = [could[place] for place in places]
        adjusted = [1.0] * len(stage) if not_held else _adjusted(stage)
        found |= {one.plan.id: _Standing(p, not_held, len(stage)) for one, p in zip(stage, adjusted, strict=True)}
        not_held += tuple(
            PlanBefore(one.plan.name, "heard by itself" if one.verdict == HEARD else one.verdict or one.state)
            for one, p_value in zip(stage, adjusted, strict=True)
            if not _holds(one, p_value)
        )
    return found


def _adjusted(stage: Sequence[Verdict]) -> list[float]:
    """By Holm; of a ballot, whose words are claims of their own, never less than by Bonferroni."""
    p_values = [_p_value(one) for one in stage]
    return [
        max(adjusted, min(1.0, p_value * len(stage))) if one.plan.method.asks_words else adjusted
        for one, p_value, adjusted in zip(stage, p_values, holm(p_values), strict=True)
    ]


def _left_out(family: Sequence[Verdict], standings: Mapping[str, _Standing]) -> tuple[PlanBefore, ...]:
    """The plans of a family that take no part in it, and why."""
    return tuple(
        PlanBefore(one.plan.name, VOID if void_reasons(one.plan) else "over before any was begun")
        for one in family
        if one.plan.id not in standings
    )


def _holds(one: Verdict, p_value: float) -> bool:
    return one.verdict == HEARD and p_value <= one.plan.alpha


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
