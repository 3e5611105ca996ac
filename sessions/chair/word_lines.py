"""Words as they are typed one after the other, a line each: WORD, its strength, where in the music, a note. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass

from audio.track_time import seconds

from ..errors import CatalogueError

SHAPE = "WORD [1-5] [@M:SS.S] [(note)]"
HERE = "WORD [1-5] [(note)]"  # where the place in the music is known
UNSAID = -1
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
        If its time is none, or a bracket is left open or stands in the word.

    Examples
    --------
    >>> typed("a bit Boomy 4 @0:31.5 (the kick drum)")
    Typed(term='a bit Boomy', strength=4, track_ms=31500, note='the kick drum')
    >>> typed("bright")
    Typed(term='bright', strength=3, track_ms=None, note='')
    """
    found = LINE.fullmatch(line.strip())
    assert found is not None  # its first part takes anything
    if "(" in found["term"] or ")" in found["term"]:
        raise CatalogueError(f"{line.strip()!r} has brackets that are not a (note) at its end; type {SHAPE}")
    at_s = None if found["at"] is None else seconds(found["at"])
    if found["at"] is not None and (at_s is None or at_s < 0):
        raise CatalogueError(f"{found['at']!r} is no time; give minutes and seconds, such as @0:30 or @1:02.5")
    return Typed(
        found["term"],
        int(found["strength"] or strength),
        None if at_s is None else round(1000 * at_s),
        (found["note"] or "").strip(),
    )


def typed_here(line: str) -> tuple[str, int | None, str]:
    """A word, its strength (None: it names none) and its note, typed where the place in the music is known.

    Raises
    ------
    CatalogueError
        If it names a place or a strength that is none, or a bracket is left open or stands in the word.

    Examples
    --------
    >>> typed_here("bright 4 (hats)"), typed_here("bright")
    (('bright', 4, 'hats'), ('bright', None, ''))
    """
    said = typed(line, UNSAID)
    if said.track_ms is not None:
        raise CatalogueError(f"the place in the music is known here; type {HERE}")
    if said.strength != UNSAID and not 1 <= said.strength <= 5:
        raise CatalogueError(f"strength {said.strength} is out of range; type 1 (a trace) to 5 (overwhelming)")
    return said.term, None if said.strength == UNSAID else said.strength, said.note
