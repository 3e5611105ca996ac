"""A reviewer's own dictionary: their words of all setups beside what was measured of these, ready to be tested. Pure.

Each word counts by its headword, as the share of a setup's tracks in which it was said: what is said ten times of one
piece of music is one piece of music still. Where a blind ballot asked for it, the share of presentations in which it
was ticked counts for that track, and nothing else that was said there: those did not know what played, and were asked.
Words that say whether something was liked are left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass

import numpy as np

from stats.words_learned import LEAST_UNITS, WordsLearned, found_of_simulated, words_learned

from ..measured.unit_bands import UnitBands
from ..words.blindness import SIGHTED, LabelledWord
from ..words.lexicon import Lexicon
from ..words.tracks_described import TracksDescribed
from .blind_ticks import TickedWord

LEAST_UNLIKE = (
    3  # units in which a word is used otherwise than it mostly is; our choice: fewer are a story of their own
)
SHARES = (0.9, 0.5)  # of a word's use that simulated reviewers take from one band
SEED = 1  # so that the same records always say the same


@dataclass(frozen=True)
class WordOfReviewer:
    """A word as it was used: of how many units, and in which share of each one's tracks, in their order."""

    word: str
    units: int
    uses: tuple[float, ...]


@dataclass(frozen=True)
class Material:
    """What there is to learn from.

    Attributes
    ----------
    units
        The identifiers of setups that were both described and measured, in the order of the table.
    levels_db
        Each one's level in each band, against the typical one.
    described
        In how many tracks each of them was described, freely or in a ballot, and whether also outside of any, which
        counts like one track more.
    words
        Those that were not used alike of nearly all units, those of most units first.
    alike
        How many other words there are.
    said, sighted
        How often the words were said in all, ticks apart, and how often of these sighted.
    ticked
        How often they were ticked in blind ballots.
    """

    units: tuple[str, ...]
    levels_db: tuple[tuple[float, ...], ...]
    described: tuple[TracksDescribed, ...]
    words: tuple[WordOfReviewer, ...]
    alike: int
    said: int
    sighted: int
    ticked: int = 0

    @property
    def lacking(self) -> int:
        """How many units more are needed."""
        return max(0, LEAST_UNITS - len(self.units))


@dataclass(frozen=True)
class Dictionary:
    """What was found, and for each of `SHARES` how many simulated reviewers would be found out by these units."""

    learned: WordsLearned
    found_of_simulated: tuple[float, ...]


def described(said: Sequence[LabelledWord], ticked: Sequence[TickedWord] = ()) -> set[str]:
    """The setups of which something was said or asked, as far as that may be told."""
    return {one.setup_id for one in said if one.setup_id is not None} | {one.setup_id for one in ticked}


def material(
    said: Sequence[LabelledWord], table: UnitBands, lexicon: Lexicon, ticked: Sequence[TickedWord] = ()
) -> Material:
    """A reviewer's words in force, and what they ticked in blind ballots, beside the table of what was measured."""
    every = [_of_unit(unit, said, ticked, lexicon) for unit in table.units]
    kept = [place for place, one in enumerate(every) if one.places or one.asked]
    there = [every[place] for place in kept]
    names = {lexicon.headword(one): one for unit in reversed(there) for one in reversed(unit.terms)}
    words = []
    for headword, first in names.items():
        uses = tuple(unit.use(headword) for unit in there)
        entry = lexicon.find(first)
        words.append(WordOfReviewer(entry.word if entry else first, sum(use > 0 for use in uses), uses))
    unlike = sorted((one for one in words if _is_unlike(one)), key=lambda one: (-one.units, one.word))
    asked = {lexicon.headword(one.word) for one in unlike}
    units = {table.units[place] for place in kept}
    of_them = [one for one in said if one.setup_id in units and lexicon.headword(one.word.term) in asked]
    return Material(
        tuple(table.units[place] for place in kept),
        tuple(table.levels_db[place] for place in kept),
        tuple(one.where for one in there),
        tuple(unlike),
        len(words) - len(unlike),
        len(of_them),
        sum(one.label == SIGHTED for one in of_them),
        sum(one.ticked for one in ticked if one.setup_id in units and lexicon.headword(one.word) in asked),
    )


@dataclass(frozen=True)
class _Unit:
    """What was said of one setup.

    Attributes
    ----------
    terms
        As they were written, liking left out.
    free, places
        The tracks in which each word was said freely, by headword, and in which any was; "" for outside of any.
    asked
        Each word's ticks in ballots, by headword and track.
    """

    terms: tuple[str, ...]
    free: Mapping[str, Set[str]]
    places: Set[str]
    asked: Mapping[str, Mapping[str, float]]

    @property
    def where(self) -> TracksDescribed:
        """In how many tracks it was described, freely or in a ballot."""
        tracks = self.places | {track for own in self.asked.values() for track in own}
        return TracksDescribed(len(tracks - {""}), "" in tracks)

    def use(self, headword: str) -> float:
        """The share of the places where a word could be said, free ones and those of ballots that asked for it."""
        free, asked = self.free.get(headword, frozenset()), self.asked.get(headword, {})
        could = self.places | asked.keys()
        return sum(asked.get(place, float(place in free)) for place in could) / len(could) if could else 0.0


def _of_unit(unit: str, said: Sequence[LabelledWord], ticked: Sequence[TickedWord], lexicon: Lexicon) -> _Unit:
    own = [one for one in said if one.setup_id == unit]
    counted = [one.word for one in own if not lexicon.likes(one.word.term)]
    free: dict[str, set[str]] = {}
    for word in counted:
        free.setdefault(lexicon.headword(word.term), set()).add(word.track or "")
    ballots: dict[str, dict[str, list[TickedWord]]] = {}
    of_it = [one for one in ticked if one.setup_id == unit and not lexicon.likes(one.word)]
    for one in of_it:
        ballots.setdefault(lexicon.headword(one.word), {}).setdefault(one.track, []).append(one)
    asked = {
        headword: {
            track: sum(one.ticked for one in every) / sum(one.presentations for one in every)
            for track, every in tracks.items()
        }
        for headword, tracks in ballots.items()
    }
    terms = (*(word.term for word in counted), *(one.word for one in of_it))
    return _Unit(terms, free, {one.word.track or "" for one in own}, asked)


def learned(there: Material) -> Dictionary:
    """The dictionary of enough material.

    Raises
    ------
    StatsError
        If there are fewer units than needed, no bands or no words.
    """
    rng = np.random.default_rng(SEED)
    uses = list(zip(*(word.uses for word in there.words), strict=True)) or [()] * len(there.units)
    found = words_learned(there.levels_db, uses, rng)
    return Dictionary(
        found, tuple(found_of_simulated(there.levels_db, len(there.words), share, rng) for share in SHARES)
    )


def _is_unlike(word: WordOfReviewer) -> bool:
    return len(word.uses) - max(Counter(word.uses).values()) >= LEAST_UNLIKE
