"""Words as they are typed one after the other, a line each: WORD, its strength, where in the music, a note. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..errors import CatalogueError
from .times import seconds

SHAPE = "WORD [1-5] [@M:SS.S] [(note)]"
LINE = re.compile(r"(?P<term>.*?)(?:\s+(?P<strength>\d+))?(?:\s+@\s*(?P<at>\S+))?(?:\s+\((?P<note>.*)\))?", re.DOTALL)
USUAL_STRENGTH = 3


@dataclass(frozen=True)
class Typed:
    """One line: a word, how strong, where in the track in milliseconds (None: all of it), and what is noted."""

    term: str
    strength: int
    track_ms: int | None
    note: str


def typed(line: str, strength: int = USUAL_STRENGTH) -> Typed:
    """What a line says; `strength` is taken where it names none.

    Raises
    ------
    CatalogueError
        If its time is none.

    Examples
    --------
    >>> typed("a bit Boomy 4 @0:31.5 (the kick drum)")
    Typed(term='a bit Boomy', strength=4, track_ms=31500, note='the kick drum')
    >>> typed("bright")
    Typed(term='bright', strength=3, track_ms=None, note='')
    """
    found = LINE.fullmatch(line.strip())
    assert found is not None  # its first part takes anything
    at_s = None if found["at"] is None else seconds(found["at"])
    if found["at"] is not None and (at_s is None or at_s < 0):
        raise CatalogueError(f"{found['at']!r} is no time; give minutes and seconds, such as @0:30 or @1:02.5")
    return Typed(
        found["term"],
        int(found["strength"] or strength),
        None if at_s is None else round(1000 * at_s),
        (found["note"] or "").strip(),
    )
