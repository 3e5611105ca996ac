"""The line that a command of the preparation ends with: what comes next in this casebook, as `status` says it."""

from __future__ import annotations

from collections.abc import Collection

from ..casebook.store import Casebook
from ..plans import next_steps, overview
from ..plans.next_steps import Step
from ..plans.standings import Overview
from .context import say


def tell(casebook: Casebook, hint: str, as_json: bool, first: Step | None = None, added: Collection[str] = ()) -> None:
    """What comes next, and its command; before it the passages that a waiting draft lacks.

    `first` is what the command itself has just advised; it comes next unless a draft or a plan waits. `added` are the
    passages that it made: of them it is told what plays them where a sealed plan does not.
    """
    stands = overview.gather(casebook)
    for left in (step for plan in stands.plans for step in next_steps.further(plan)):
        say(f"{left.what}; to take in what is new: {left.command(hint)}", as_json)
    for own in (next_steps.of_its_own(stands, one) for one in stands.unplanned if one.passage in added):
        say(f"{own.what}: {own.command(hint)}", as_json)
    step = _following(stands, first)
    say(f"Next, {step.what}: {step.command(hint)}", as_json)


def following(casebook: Casebook, first: Step | None = None) -> Step:
    """What `tell` names as the next step."""
    return _following(overview.gather(casebook), first)


def _following(stands: Overview, first: Step | None) -> Step:
    return first if first and not next_steps.is_open(stands) else next_steps.waiting(stands)[0]
