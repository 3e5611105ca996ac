"""Which giveaways drafts and plans accept, for whoever lists passages. Pure: drafts and plans in, kinds out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from .evidence_in_force import CheckedFinding
from .plan_rows import Draft, PlanSummary


@dataclass(frozen=True)
class Accepting:
    """A draft or plan as far as it accepts: which kinds, between which setups (by name), on which passages.

    Passages by identifier, or by name in older drafts; none named means all of them, and so for setups.
    """

    kinds: frozenset[str]
    setups: frozenset[str]
    passages: frozenset[str]

    def takes(self, found: CheckedFinding, passage: Collection[str], setups: Mapping[str, str]) -> bool:
        """Whether it accepts a finding on a passage (identifier and name); `setups` are identifiers by name."""
        named = {found.setup, found.against or found.setup}
        return (
            found.kind in self.kinds
            and (not self.passages or not self.passages.isdisjoint(passage))
            and (not self.setups or all(not self.setups.isdisjoint({one, setups.get(one, one)}) for one in named))
        )


def of_all(drafts: Iterable[Draft], plans: Iterable[PlanSummary], given_up: Collection[str]) -> Sequence[Accepting]:
    """What the drafts and the plans that were not given up (by identifier) accept; only those that accept anything."""
    found = [
        Accepting(
            frozenset(kind for kind, _ in one.wish.accepted), frozenset(one.wish.setups), frozenset(one.wish.passages)
        )
        for one in drafts
    ]
    found += [
        Accepting(
            frozenset(each["kind"] for each in one.giveaways.get("accepted", ())),
            frozenset(setup["name"] for setup in one.setups),
            frozenset(passage["passage"] for passage in one.passages),
        )
        for one in plans
        if one.plan not in given_up
    ]
    return [one for one in found if one.kinds]
