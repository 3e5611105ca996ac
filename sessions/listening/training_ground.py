"""On what somebody trains before a plan: its passages, through its first setup, for its listeners. A draft will do."""

from __future__ import annotations

from dataclasses import dataclass

from ..casebook import catalogue
from ..casebook.catalogue import Listener, Passage, Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError, ListenError, PlanError
from ..plans import plan_rows
from ..preparation.selection import select


@dataclass(frozen=True)
class Ground:
    """What a plan, sealed or not, gives to train on."""

    plan: str
    setup: Setup
    passages: tuple[Passage, ...]
    listeners: tuple[str, ...]

    def passage(self, name: str) -> Passage:
        """The passage of that name; without a name the first one.

        Raises
        ------
        ListenError
            If the plan plays none of that name.
        """
        found = [one for one in self.passages if name in ("", one.name)]
        if not found:
            raise ListenError(
                f"plan {self.plan!r} plays no passage {name!r}; it plays {', '.join(one.name for one in self.passages)}"
            )
        return found[0]


def of(casebook: Casebook, name: str) -> Ground:
    """What a plan gives to train on, by its name.

    Raises
    ------
    PlanError
        If there is neither a sealed plan nor a draft of that name.
    CatalogueError
        If what a draft names is not there any more.
    """
    sealed = plan_rows.sealed(casebook, name)
    if sealed is not None:
        plan = sealed.plan
        return Ground(
            plan.name,
            catalogue.find(casebook, Setup, plan.setups[0].id),
            tuple(catalogue.find(casebook, Passage, one.id) for one in plan.passages),
            tuple(one.name for one in plan.listeners),
        )
    draft = plan_rows.draft(casebook, name)
    if draft is None:
        raise PlanError(f"no plan {name!r} to train for; see earwitness plan list")
    selection = select(casebook, draft.wish.setups, draft.wish.passages)
    listeners = tuple(catalogue.find(casebook, Listener, one).name for one in draft.wish.listeners)
    return Ground(draft.name, selection.setups[0], tuple(selection.passages), listeners)


def drafts(casebook: Casebook) -> list[Ground]:
    """What each draft that is not sealed gives to train on; one of which something is gone is left out."""
    sealed = set(plan_rows.sealed_names(casebook))
    found = []
    for draft in plan_rows.every_draft(casebook):
        if draft.name in sealed:
            continue
        try:
            found.append(of(casebook, draft.name))
        except (PlanError, ListenError, CatalogueError):
            continue
    return found
