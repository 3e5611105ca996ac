"""Who can sit down to listen: the listeners of sealed plans that are not over, and how far each has come."""

from __future__ import annotations

from dataclasses import dataclass

from ..casebook import session_rows
from ..casebook.store import Casebook
from ..plans import plan_rows


@dataclass(frozen=True)
class Waiting:
    """A listener of a plan: how many trials of how many are answered, and whether all that were needed are."""

    plan: str
    method: str
    listener: str
    answered: int
    trials: int
    complete: bool


def waiting(casebook: Casebook, only: str | None = None) -> list[Waiting]:
    """The listeners of all plans that can be heard now, or of one; in the order in which the plans were sealed."""
    over = {*plan_rows.openings(casebook), *plan_rows.given_up(casebook)}
    phrases = plan_rows.with_phrase(casebook)
    progress = {(one.plan_id, one.listener_id): one for one in session_rows.progress(casebook)}
    found = []
    for plan in plan_rows.summaries(casebook):
        if plan.plan in over or (plan.phrase and plan.plan not in phrases) or only not in (None, plan.name):
            continue
        for listener in plan.listeners:
            own = progress.get((plan.plan, listener["listener"]))
            answered, complete = (own.answered, own.complete) if own else (0, False)
            found.append(Waiting(plan.name, plan.method, listener["name"], answered, plan.slots, complete))
    return found
