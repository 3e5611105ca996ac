"""How far it matters what equal means: what each measure would have given the setups of a match sheet. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from .match_sheet import MatchSheet

METHODS = {"zwicker": "Zwicker, as a steady sound", "zwicker-n5": "Zwicker, exceeded in 5 % of the time"}


@dataclass(frozen=True)
class Given:
    """What one meaning of equal would have given, beyond what the sheet gave.

    Attributes
    ----------
    gains_db
        For each setup but the first, the least and the most that it would have got more against the first, over all
        passages; below 0 it would have got less.
    """

    by: str
    gains_db: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Meanings:
    """All meanings beside each other, that which was taken first.

    Attributes
    ----------
    most_db
        How far the choice moves one setup against another at most: from any meaning to any other, on one passage.
    """

    first: str
    others: tuple[str, ...]
    given: tuple[Given, ...]
    most_db: float


def meanings(sheet: MatchSheet) -> Meanings | None:
    """What each meaning would have given; None where the sheet does not say, or its passages hold other setups.

    A gain moves all measures by itself; what ISO 532-1 finds stands on the sheet in dB already.
    """
    setups = {tuple(own.setup for own in part.setups) for part in sheet.passages}
    named = [[meaning.by for meaning in part.meanings] for part in sheet.passages]
    known = [by for by in named[0] if all(by in own for own in named)] if named else []
    if len(setups) != 1 or len(known) < 2:
        return None
    first, *others = setups.pop()
    given = []
    for by in known:
        after = [meaning.after_db for part in sheet.passages for meaning in part.meanings if meaning.by == by]
        ends = [[levels[0] - levels[place] for levels in after] for place in range(1, len(others) + 1)]
        given.append(Given(by, tuple((min(gains), max(gains)) for gains in ends)))
    return Meanings(first, tuple(others), tuple(given), _most_db(sheet, known))


def document_of(sheet: MatchSheet) -> dict[str, Any]:
    """A sheet as it is printed for programs: as it is kept, and how far the choice of a meaning moves a setup."""
    found = meanings(sheet)
    return sheet.to_document() | ({} if found is None else {"meanings_most_db": found.most_db})


def _most_db(sheet: MatchSheet, known: Sequence[str]) -> float:
    most = 0.0
    for part in sheet.passages:
        after = [meaning.after_db for meaning in part.meanings if meaning.by in known]
        for one, other in combinations(range(len(part.setups)), 2):
            apart = [levels[one] - levels[other] for levels in after]
            most = max(most, max(apart) - min(apart))
    return most


def full_scale_spl(by: str) -> str:
    """Of loudness by ISO 532-1, at how many dB SPL full scale is taken to play; empty for other measures."""
    name, _, spl_db = by.partition("@")
    return spl_db if name in METHODS else ""


def method(by: str) -> str:
    """The words for one of the methods of ISO 532-1, as `full_scale_spl` finds them."""
    return METHODS[by.partition("@")[0]]
