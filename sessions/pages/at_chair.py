"""What a listener's page is told: who may sit down, and what is asked where they sit. Records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..chair.asked import Asked
from ..chair.sitting import Doing
from ..chair.view import Asking, View
from ..chair.waiting import Waiting


@dataclass(frozen=True)
class Offered:
    """A listener who may sit down, whether they sit at a page already, and whether that page is there."""

    waits: Waiting
    taken: bool
    connected: bool


@dataclass(frozen=True)
class AtChair:
    """What a listener's page shows.

    Attributes
    ----------
    asking
        That of the chair; or who one is, to wait in line, or to sit down again after the program was started anew.
    before
        How many are in line before.
    own_sound
        Whether the page plays by itself.
    doing, about
        What somebody sits there for, and of what, where it is no plan that counts.
    offers
        What they may sit down for besides.
    """

    asking: Asking | Literal["who", "line", "away"]
    plan: str = ""
    listener: str = ""
    before: int = 0
    asked: Asked | None = None
    view: View | None = None
    message: str = ""
    own_sound: bool = False
    doing: Doing = "plan"
    about: tuple[str, ...] = ()
    offers: tuple[Doing, ...] = ()
