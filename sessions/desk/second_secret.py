"""Second secrets at the desk: chosen by who holds one when a plan is sealed, and typed again for its sessions.

They stay in memory, with the pages that are open; no file holds one.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..casebook.store import Casebook
from ..errors import PlanError
from ..plans import seals, second_hand
from .office import Office


@dataclass(frozen=True)
class Held:
    """A plan's second secret, as who holds it typed it."""

    name: str
    second: str


def chosen(second: str, again: str) -> str:
    """A second secret for a plan that is being sealed, as it is hashed.

    Raises
    ------
    PlanError
        If it is too plain, or was typed otherwise the second time.
    """
    found = second_hand.chosen(second)
    if second_hand.normalised(again) != found:
        raise PlanError("the second secret was typed otherwise the second time; type both again")
    return found


def take(casebook: Casebook, office: Office, given: Held) -> None:
    """Keep a plan's second secret in mind for its sessions, as long as the pages are open.

    Raises
    ------
    PlanError
        If the plan has none, or it is another one.
    """
    plan = seals.sealed_plan(casebook, given.name).plan
    if not second_hand.is_held(plan):
        raise PlanError(f"plan {plan.name!r} has no second secret; nothing is to be typed")
    if not second_hand.fits(plan, second_hand.normalised(given.second)):
        raise PlanError(f"this is not the second secret of plan {plan.name!r}; ask who holds it to type it again")
    office.seconds[plan.id] = given.second
