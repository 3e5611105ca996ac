"""A note of a giveaway check: what it could not judge, or found that is no giveaway. A plain record."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Note:
    """A sentence for people, the passage it is about and the two setups between which it holds (none: whichever).

    All by the names they had when they were checked.
    """

    what: str
    passage: str
    setups: tuple[str, ...] = ()
