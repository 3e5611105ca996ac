"""What the desk is told of a listener: how far they are, and whether their page is there. A record."""

from __future__ import annotations

from dataclasses import dataclass

from ..chair.sitting import Doing


@dataclass(frozen=True)
class AtDesk:
    """A listener as the desk shows them: how far, and whether their page is connected. Never a key, never a score.

    Attributes
    ----------
    message
        What goes wrong there, in whole.
    """

    plan: str
    listener: str
    asking: str
    answered: int
    trials: int
    progress: str
    connected: bool
    message: str


def progress(doing: Doing, answered: int, trials: int) -> str:
    """How far somebody is, in words.

    >>> progress("plan", 3, 16), progress("practice", 3, 16)
    ('3 of 16', '3 of 16, practice, never counts')
    >>> progress("free", 0, 0), progress("training", 4, 0)
    ('listens freely; nothing counts', 'training, never counts')
    """
    far = f"{answered} of {trials}"
    if doing == "plan":
        return far
    if doing == "free":
        return "listens freely; nothing counts"
    return f"{f'{far}, ' if trials else ''}{doing}, never counts"
