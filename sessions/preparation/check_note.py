"""A note of a giveaway check: what it could not judge, or found that is no giveaway; and what such checks found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True)
class Note:
    """A sentence for people, the passage it is about and the two setups between which it holds (none: whichever).

    All by the names they had when they were checked.
    """

    what: str
    passage: str
    setups: tuple[str, ...] = ()


class Found(Protocol):
    """A giveaway, as far as notes and reasons hang on it: its kind, and between which setups, by name."""

    @property
    def kind(self) -> str:
        """Its kind."""

    @property
    def setup(self) -> str:
        """Of which setup."""

    @property
    def against(self) -> str:
        """Compared with which; empty where it shows by itself."""
