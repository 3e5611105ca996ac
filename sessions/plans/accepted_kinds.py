"""Which giveaways drafts and plans accept, for whoever lists passages. Pure: drafts and plans in, kinds out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..preparation.check_note import Found
from .plan_rows import Draft, PlanSummary

OF_A_RECORDING = frozenset(  # kinds that are of one recording of the music, and tell it from the other by themselves
    {"channels", "channel-delay", "click", "dropout", "edit", "length", "onset", "performance", "polarity"}
)


@dataclass(frozen=True)
class Accepting:
    """A draft or plan as far as it accepts: which kinds and why, between which setups (by name), on which passages.

    Passages by identifier, or by name in older drafts; none named means all of them, and so for setups.
    """

    reasons: tuple[tuple[str, str], ...]
    setups: frozenset[str]
    passages: frozenset[str]
    name: str = ""
    sealed: bool = False

    @classmethod
    def of_draft(cls, draft: Draft) -> Accepting:
        """A draft, whether it accepts anything or not."""
        wish = draft.wish
        return cls(wish.accepted, frozenset(wish.setups), frozenset(wish.passages), draft.name)

    def takes(self, found: Found, passage: Collection[str], setups: Mapping[str, str]) -> bool:
        """Whether it accepts a finding on a passage (identifier and name); `setups` are identifiers by name."""
        named = {found.setup, found.against or found.setup}
        return (
            found.kind in dict(self.reasons)
            and (not self.passages or not self.passages.isdisjoint(passage))
            and (not self.setups or all(not self.setups.isdisjoint({one, setups.get(one, one)}) for one in named))
        )

    def in_words(self, kind: str) -> str:
        """Where and why it accepts a kind."""
        return f"accepted in {'plan' if self.sealed else 'draft'} {self.name}, because: {dict(self.reasons)[kind]}"


def of_all(drafts: Iterable[Draft], plans: Iterable[PlanSummary]) -> Sequence[Accepting]:
    """What the drafts and some plans accept; only those that accept anything."""
    found = [
        *map(Accepting.of_draft, drafts),
        *(
            Accepting(
                tuple((each["kind"], each["why"]) for each in one.giveaways.get("accepted", ())),
                frozenset(setup["name"] for setup in one.setups),
                frozenset(passage["passage"] for passage in one.passages),
                one.name,
                sealed=True,
            )
            for one in plans
        ),
    ]
    return [one for one in found if one.reasons]


def by_itself(kinds: Collection[str]) -> str:
    """What is given up where these kinds are accepted, in brackets; empty where none of them tells A from B by itself.

    >>> by_itself(["noise-floor"])
    ''
    """
    telling = [kind for kind in kinds if kind in OF_A_RECORDING]
    if not telling:
        return ""
    alone = f"by {' or '.join(telling)} alone the listener can tell A from B"
    return f" ({alone}; a difference that is heard is then not shown to be the setups')"


def to_leave_out(open_kinds: Mapping[str, Collection[str]]) -> tuple[str, ...]:
    """The passages that a plan is best without, so that some are left; none where none would be.

    `open_kinds` are the kinds of giveaways by passage, of all that it plays. Where something is found in all of them
    (a hiss of one setup, say), those are left out that tell A from B by a kind that is of their recording alone.

    >>> to_leave_out({"one": [], "two": ["hum"]}), to_leave_out({"one": ["hum"], "two": ["hum", "click"]})
    (('two',), ('two',))
    >>> to_leave_out({"one": ["hum"], "two": ["hum"]})
    ()
    """
    for telling in (lambda _: True, OF_A_RECORDING.__contains__):
        poor = tuple(name for name, kinds in open_kinds.items() if any(map(telling, kinds)))
        if len(poor) < len(open_kinds):
            return poor
    return ()
