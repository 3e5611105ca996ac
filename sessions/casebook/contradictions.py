"""Why two casebooks cannot be put together, and what can be done about each reason. Pure."""

from __future__ import annotations

from dataclasses import dataclass

SAME_IN_BOTH = "Write the same into both (earwitness edit), then merge again."
SAME_CLAIM = (
    "Give the claim the same sentence and evidence in both (earwitness claims edit), or take it back in both "
    "(earwitness claims withdraw), then merge again."
)
WHICH_WAS_EDITED = (
    "What was written once says two things: in one of them it was edited. An end that a session showed, or that was "
    "published after that row, tells which (verify --saw CODE, in each of them); put a backup of that one back."
)
ONE_GOES_ON = (
    "These are copies of one casebook that went on by themselves, and no rule can say which of the two counts. Go on "
    "in one; keep the other's folder as it is, which can still be verified and reported by itself, and say in the "
    "review that there are both. Do not pool them: whoever sat in each would count twice. Words and notes of the other "
    "can be entered here by hand. In copies of one casebook each listener sits in one alone, and they are merged "
    "before a plan is ended: that can always be put together."
)
SECRET_PUT_BACK = (
    "Put back the secret that belongs to it, from a backup or from whoever sealed it; or move that file away and merge "
    "without it (merging again later fetches it)."
)
RECORD_FIRST = (
    "verify, run there, says the same. Put a backup back whose record holds: one that does not is neither merged nor "
    "pooled."
)
ENTRY_BACK = "Add that entry here again, or remove there what names it, then merge again."


@dataclass(frozen=True)
class Contradiction:
    """What two casebooks say otherwise, in the words of whoever keeps them, and the way out."""

    told: str
    way: str
