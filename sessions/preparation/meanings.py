"""How far it matters what equal means: what each measure would have given the setups of a match sheet. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from .match_sheet import MatchSheet


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
    """All meanings beside each other, that which was taken first."""

    first: str
    others: tuple[str, ...]
    given: tuple[Given, ...]

    @property
    def most_db(self) -> float:
        """How far the choice moves a setup at most."""
        return max(abs(gain) for one in self.given for ends in one.gains_db for gain in ends)


def meanings(sheet: MatchSheet) -> Meanings | None:
    """What each meaning would have given; None where the sheet does not say, or its passages hold other setups.

    A gain moves all measures but loudness by ISO 532-1 by itself; there a phon stands for a decibel.
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
    return Meanings(first, tuple(others), tuple(given))


def full_scale_spl(by: str) -> str:
    """Of loudness by ISO 532-1, at how many dB SPL full scale is taken to play; empty for other measures."""
    name, _, spl_db = by.partition("@")
    return spl_db if name == "zwicker" else ""
