"""A verdict as a card for a video. Pure; of a plan that is not over there is none."""

from __future__ import annotations

from audio.curves import card
from audio.curves.card import Mark, Trials
from audio.curves.still import Still
from stats.count_summary import HEARD, NOT_SHOWN

from ...errors import PlanError
from ...results import first_lines, how_answered
from ...results.outcome import Discrimination
from ...results.outcome_sentences import p_value
from ...results.verdict import UNDECIDED, VOID, Verdict

STATES: dict[str, tuple[Mark, str]] = {
    HEARD: ("whole", "HEARD"),
    NOT_SHOWN: ("hollow", "NOT SHOWN"),
    UNDECIDED: ("half", "UNDECIDED"),
    VOID: ("cross", "VOID"),
}
SHOWN = "SHOWN"  # of a preference: nothing of it is heard
EXPLORATORY = "Exploratory: not one of the review's primary questions."
SHORTENED = 12  # of a seal's digits, enough to be recognised beside the whole one in a description


def verdict_still(verdict: Verdict, seal: str, sealed_at: str) -> Still:
    """The card of a verdict.

    Raises
    ------
    PlanError
        If the plan has none yet.
    """
    if verdict.verdict is None:
        raise PlanError(
            f"{verdict.plan.name!r} has no verdict ({verdict.state}): a card shows one when the plan is over; "
            "its rehearsal's: --rehearsal"
        )
    mark, state = STATES[verdict.verdict]
    prefers = verdict.plan.method.asks_preference
    state = SHOWN if prefers and verdict.verdict == HEARD else state
    said = first_lines.first_lines(verdict)[1]
    if verdict.verdict == HEARD and (but := first_lines.but_alone(verdict).strip()):
        mark, state = "half", f"{state} ON ITS OWN"
        said = f"{but[0].upper()}{but[1:]}. {said}"
    if not verdict.plan.primary:
        state, said = f"{state}, EXPLORATORY", f"{EXPLORATORY} {said}"
    above = how_answered.preferred(verdict)
    if not above:
        above = f"A {'preference' if prefers else 'difference'}: {first_lines.compared(verdict)}"
    if verdict.rehearsal:
        above = f"{first_lines.REHEARSAL}{above}"
    return card.verdict_card(above, mark, state, said, _below(verdict, seal, sealed_at), _trials(verdict))


def _below(verdict: Verdict, seal: str, sealed_at: str) -> str:
    found = verdict.outcome
    p = "" if found is None or found.p_value is None or verdict.verdict == VOID else p_value(found)
    parts = [f"Plan {verdict.plan.name}", p, f"sealed {sealed_at[:10]}", f"seal {seal[:SHORTENED]}…"]
    return ", ".join(part for part in parts if part)


def _trials(verdict: Verdict) -> Trials | None:
    """The answers as dots, of methods whose answers are right or wrong, or choose one of two."""
    found = verdict.outcome
    if not isinstance(found, Discrimination) or not found.counted or verdict.verdict == VOID:
        return None
    plan, right = verdict.plan, found.correct
    if plan.method.asks_preference and plan.alternative == "two-sided":
        right = max(right, found.counted - right)  # of the one chosen more often
    needed = found.criterion if found.sequential is None else None
    return Trials(right, found.counted, needed, "for one side needed" if plan.method.asks_preference else "needed")
