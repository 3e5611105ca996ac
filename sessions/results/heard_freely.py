"""What a plan's listeners had heard of its setups freely and sighted before its first trial. It changes no verdict."""

from __future__ import annotations

from audio import track_time

from ..casebook import free_rows, session_rows
from ..casebook.free_rows import HeardFreely
from ..casebook.store import Casebook
from ..plans.plan import Plan


def sentences(casebook: Casebook, plan: Plan) -> list[str]:
    """A sentence for each listener who had; of a plan that is not begun, what they heard so far."""
    heard = free_rows.heard(casebook, session_rows.first_row(casebook, plan.id))
    return in_words(plan, heard)


def in_words(plan: Plan, heard: list[HeardFreely]) -> list[str]:
    """The same of what was heard freely before the plan's first trial."""
    setups = {setup.id: setup.name for setup in plan.setups}
    found = []
    for listener in plan.listeners:
        own = [one for one in heard if one.listener_id == listener.id and one.setup_id in setups]
        if own:
            each = ", ".join(
                f"{setups[one.setup_id]} for {track_time.for_how_long(one.heard_ms / 1000)}" for one in own
            )
            last = max(one.last for one in own)[:10]
            found.append(
                f"Before the first trial {listener.name} had heard freely and sighted: {each} (last on {last})."
            )
    return found
