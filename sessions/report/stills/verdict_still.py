"""A verdict as a card for a video. Pure; of a plan that is not over there is none."""

from __future__ import annotations

from audio.curves import card
from audio.curves.card import Mark, Trials
from audio.curves.still import Still
from stats.count_summary import HEARD, NOT_SHOWN

from ...errors import PlanError
from ...results import first_lines
from ...results.outcome import Discrimination
from ...results.outcome_sentences import p_value
from ...results.verdict import UNDECIDED, VOID, Verdict

STATES: dict[str, tuple[Mark, str]] = {
    HEARD: ("whole", "HEARD"),
    NOT_SHOWN: ("hollow", "NOT SHOWN"),
    UNDECIDED: ("half", "UNDECIDED"),
    VOID: ("cross", "VOID"),
}
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
    if verdict.verdict == HEARD and first_lines.but_alone(verdict):
        mark, state = "half", "HEARD ALONE"  # and not together with the other primary questions
    what = "preference" if verdict.plan.method.asks_preference else "difference"
    above = f"A {what}: {first_lines.compared(verdict)}"
    if verdict.rehearsal:
        above = f"{first_lines.REHEARSAL}{above}"
    return card.verdict_card(above, mark, state, first_lines.first_lines(verdict)[1], _below(verdict, seal, sealed_at),
                             _trials(verdict))  # fmt: skip


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
    asks_preference = verdict.plan.method.asks_preference
    return Trials(
        found.correct,
        found.counted,
        found.criterion if not asks_preference and found.sequential is None else None,
        "needed",
    )
