"""What a page gives: presses of the remote, answers and words; and what is said to them. Records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Press = Literal[
    "begin",
    "hear",
    "restart",
    "pause",
    "resume",
    "rested",
    "loop from",
    "loop to",
    "no loop",
    "try again",
    "stop",
    "seek",
    "moment",
    "passage",
    "take back",
    "next",
]
Result = Literal["kept", "held", "again", "later", "late", "refused"]


@dataclass(frozen=True)
class Pressed:
    """A press of the remote in a trial, or in free listening.

    Attributes
    ----------
    label
        What is to be heard; or to which passage to turn, which word to take back.
    track_ms
        Which moment of the track to hear; or how far to go on in it.
    """

    trial: str
    do: Press
    label: str = ""
    track_ms: int = 0


@dataclass(frozen=True)
class Answered:
    """An answer: the trial it belongs to, a number that the page drew for it once, the choice or the marks."""

    trial: str
    nonce: str
    sureness: int
    choice: str = ""
    marks: dict[str, str | list[str] | dict[str, int]] = field(default_factory=dict)


@dataclass(frozen=True)
class WordSaid:
    """A word, as ``WORD 4 (note)`` or in parts; of what it was said, and where in the track."""

    trial: str
    nonce: str
    line: str
    stimulus: str
    track_ms: int
    strength: int | None = None
    note: str = ""


@dataclass(frozen=True)
class Said:
    """What came of it.

    Attributes
    ----------
    result
        kept (on disk) · held (the casebook is in use: ask again) · again (disturbed, the trial comes once more) ·
        later (not now: keep it and ask again) · late (of a trial that is over) · refused (something is lacking)
    """

    result: Result
    message: str = ""


Reply = Mapping[str, object]
