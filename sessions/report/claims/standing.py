"""What a claim comes to from the parts of its evidence. Pure.

The weakest part decides: one that contradicts, then one that is not shown, then one that is an opinion. A claim without
evidence is an opinion.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from .claim_rows import Claim, Standing
from .wording import Overstated

WEAKEST_FIRST: tuple[Standing, ...] = ("contradicted", "not shown", "opinion", "shown")
EXPLORATORY = " (exploratory, none of the primary questions)"
MEANS: dict[Standing, str] = {
    "shown": "all of its evidence bears it",
    "not shown": "some of its evidence does not bear it",
    "contradicted": "some of its evidence says the opposite",
    "opinion": "it rests on what somebody said, and no test or measurement bears it",
}


@dataclass(frozen=True)
class TrackTime:
    """Where in the music something of a claim's evidence lies, ms (None: all of the track), and what lies there."""

    track: str
    from_ms: int | None
    to_ms: int | None
    what: str


@dataclass(frozen=True)
class Part:
    """One part of a claim's evidence.

    Attributes
    ----------
    what
        What it is: "plan evening", "word boomy".
    standing
        What it comes to for the claim.
    said
        What it says now, in words.
    listeners
        Whose answers or words it is.
    exploratory
        Whether all of it is from plans that are none of the review's primary questions.
    """

    what: str
    standing: Standing
    said: str
    listeners: tuple[str, ...] = ()
    times: tuple[TrackTime, ...] = ()
    exploratory: bool = False

    @property
    def told(self) -> str:
        """The whole in one line."""
        return f"{self.what}{EXPLORATORY if self.exploratory else ''}: {self.standing}: {self.said}"


@dataclass(frozen=True)
class JudgedClaim:
    """A claim with what it comes to now.

    Attributes
    ----------
    overstated
        Words of it that say more than its evidence.
    changed
        What changed since it was given out last, in words; empty where nothing did, or it never was.
    """

    claim: Claim
    standing: Standing
    parts: tuple[Part, ...]
    overstated: tuple[Overstated, ...] = ()
    changed: tuple[str, ...] = field(default=())

    @property
    def told(self) -> str:
        """Its standing in words; of a sentence that says more than its evidence never alone."""
        return told(self.standing, too_much=bool(self.overstated), exploratory=self.exploratory)

    @property
    def exploratory(self) -> bool:
        """Whether any of its evidence is."""
        return any(part.exploratory for part in self.parts)

    @property
    def times(self) -> list[TrackTime]:
        """Where in the music its evidence lies, each place once."""
        return list(dict.fromkeys(time for part in self.parts for time in part.times))


def told(standing: Standing, *, too_much: bool, exploratory: bool = False) -> str:
    """A standing in words.

    >>> told("shown", too_much=True), told("shown", too_much=False, exploratory=True)
    ('shown, but the sentence says more', 'shown, exploratory')
    """
    more = ", but the sentence says more" if standing == "shown" else ", and the sentence says more"
    return f"{standing}{', exploratory' if exploratory else ''}{more if too_much else ''}"


def counted(found: Iterable[tuple[Standing, bool]]) -> list[str]:
    """How many sentences came to what, and how many of these say more than their evidence.

    >>> counted([("shown", True), ("opinion", False), ("shown", False)])
    ['2 shown (1 of them says more than its evidence)', '1 opinion']
    """
    every = list(found)
    counts, too_much = Counter(one for one, _ in every), Counter(one for one, more in every if more)
    said = []
    for one in reversed(WEAKEST_FIRST):
        more = f" ({_saying_more(counts[one], too_much[one])})" if too_much[one] else ""
        said += [f"{counts[one]} {one}{more}"] if counts[one] else []
    return said


def _saying_more(number: int, too_much: int) -> str:
    say = "says more than its evidence" if too_much == 1 else "say more than their evidence"
    return f"it {say}" if number == 1 else f"{too_much} of them {say}"


def weakest(parts: Sequence[Part]) -> Standing:
    """What a claim comes to.

    >>> weakest([Part("plan evening", "shown", ""), Part("word airy", "opinion", "")]), weakest([])
    ('opinion', 'opinion')
    """
    found = {part.standing for part in parts}
    return next((one for one in WEAKEST_FIRST if one in found), "opinion")


def changes(claim: Claim, standing: Standing, parts: Sequence[Part]) -> tuple[str, ...]:
    """What is otherwise than when the claim was given out last: its standing, its sentence, what its evidence says."""
    before = claim.told
    if before is None:
        return ()
    day = before.at[:10]
    found = []
    if before.standing != standing:
        found.append(f"it was {before.standing} when it was given out last ({day}), and is {standing} now")
    if before.text != claim.text and claim.text:
        found.append(f'it was given out last ({day}) as "{before.text}"')
    now = [part.told for part in parts]
    if tuple(now) != before.parts:
        found += [f"then ({day}): {one}" for one in before.parts if one not in now]
        found += [f"now: {one}" for one in now if one not in before.parts]
    return tuple(found)
