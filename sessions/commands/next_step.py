"""The line that a command of the preparation ends with: what comes next in this casebook, as `status` says it."""

from __future__ import annotations

from ..casebook.store import Casebook
from ..plans import next_steps, overview
from .context import say


def tell(casebook: Casebook, hint: str, as_json: bool) -> None:
    """What comes next, and its command; before it the passages that a waiting draft lacks."""
    stands = overview.gather(casebook)
    for left in (step for plan in stands.plans for step in next_steps.further(plan)):
        say(f"{left.what}; to take in all passages: {left.command(hint)}", as_json)
    step = next_steps.waiting(stands)[0]
    say(f"Next, {step.what}: {step.command(hint)}", as_json)
