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
class Furthest:
    """The two meanings that lie furthest apart: on which passage, and what they give one setup against another.

    Attributes
    ----------
    setup, against
        The one that is turned, and the other.
    by, gains_db
        The two meanings, that which gives the setup more first, and what each gives it beyond what the sheet gave.
    """

    passage: str
    setup: str
    against: str
    by: tuple[str, str]
    gains_db: tuple[float, float]

    @property
    def apart_db(self) -> float:
        """From one to the other."""
        return self.gains_db[0] - self.gains_db[1]


@dataclass(frozen=True)
class Meanings:
    """All meanings beside each other, that which was taken first.

    Attributes
    ----------
    furthest
        How far the choice moves one setup against another at most: from any meaning to any other, on one passage.
    """

    first: str
    others: tuple[str, ...]
    given: tuple[Given, ...]
    furthest: Furthest

    @property
    def most_db(self) -> float:
        """How far that is."""
        return self.furthest.apart_db


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
    return Meanings(first, tuple(others), tuple(given), _furthest(sheet, known))


def document_of(sheet: MatchSheet) -> dict[str, Any]:
    """A sheet as it is printed for programs: as it is kept, and how far the choice of a meaning moves a setup."""
    found = meanings(sheet)
    return sheet.to_document() | ({} if found is None else {"meanings_most_db": found.most_db})


def _furthest(sheet: MatchSheet, known: Sequence[str]) -> Furthest:
    every = []
    for part in sheet.passages:
        after = [(meaning.by, meaning.after_db) for meaning in part.meanings if meaning.by in known]
        for one, other in combinations(range(len(part.setups)), 2):
            given = sorted(((levels[one] - levels[other], by) for by, levels in after), key=lambda own: own[0])
            (least, least_by), (most, most_by) = given[0], given[-1]
            names = part.setups[other].setup, part.setups[one].setup
            every.append(Furthest(part.passage, *names, (most_by, least_by), (most, least)))
    return max(every, key=lambda own: own.apart_db)


def full_scale_spl(by: str) -> str:
    """Of loudness by ISO 532-1, at how many dB SPL full scale is taken to play; empty for other measures."""
    name, _, spl_db = by.partition("@")
    return spl_db if name in METHODS else ""


def method(by: str) -> str:
    """The words for one of the methods of ISO 532-1, as `full_scale_spl` finds them."""
    return METHODS[by.partition("@")[0]]
