"""A plan ended for good from the desk: closed, with the worst told that its missing trials could make, or given up."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from ..casebook.store import Casebook
from ..errors import PlanError
from ..plans import seals, second_hand


@dataclass(frozen=True)
class Closing:
    """Which plan is closed and why.

    Attributes
    ----------
    sure
        That it cannot be taken back was read and agreed to.
    lost
        A secret of it is lost: it is given up, and never opened.
    second
        The second secret of a plan that has one, as it was typed by who holds it.
    """

    name: str
    why: str
    sure: bool = False
    lost: bool = False
    second: str = ""


def close(casebook: Casebook, wish: Closing, seated: Collection[str]) -> None:
    """Close a plan, or give it up.

    Parameters
    ----------
    seated
        Who sits in a chair of it now, by name.

    Raises
    ------
    PlanError
        If nobody agreed to it, no reason is given, somebody sits in it, it is over, or a secret is missing or wrong.
    """
    plan = seals.closable(casebook, wish.name, wish.why).plan
    if not wish.sure:
        raise PlanError(
            f"plan {plan.name!r} is not closed: tick that it is closed for good, since nothing opens it again"
        )
    if seated:
        raise PlanError(
            f"{', '.join(seated)} sits in a chair of plan {plan.name!r} now; free the chair on the first page, then "
            "close the plan"
        )
    if wish.lost:
        seals.give_up(casebook, wish.name, wish.why)
        return
    if second_hand.is_held(plan) and not wish.second.strip():
        raise PlanError(
            f"plan {plan.name!r} has a second secret, held by somebody else; they type it here, unseen, to close it"
        )
    seals.close(casebook, wish.name, wish.why, wish.second if second_hand.is_held(plan) else None)
