"""A reviewer's own dictionary: their words of all setups beside what was measured of these, ready to be tested. Pure.

Each word counts by its headword, as the share of a setup's tracks in which it was said: what is said ten times of one
piece of music is one piece of music still. Words that say whether something was liked are left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stats.words_learned import LEAST_UNITS, WordsLearned, found_of_simulated, words_learned

from ..measured.unit_bands import UnitBands
from ..words.blindness import SIGHTED, LabelledWord
from ..words.lexicon import Lexicon
from ..words.tracks_described import TracksDescribed, tracks_described

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
        In how many tracks each of them was described, and whether also outside of any, which counts
        like one track more.
    words
        Those that were not used alike of nearly all units, those of most units first.
    alike
        How many other words there are.
    said, sighted
        How often the words were said in all, and how often of these sighted.
    """

    units: tuple[str, ...]
    levels_db: tuple[tuple[float, ...], ...]
    described: tuple[TracksDescribed, ...]
    words: tuple[WordOfReviewer, ...]
    alike: int
    said: int
    sighted: int

    @property
    def lacking(self) -> int:
        """How many units more are needed."""
        return max(0, LEAST_UNITS - len(self.units))


@dataclass(frozen=True)
class Dictionary:
    """What was found, and for each of `SHARES` how many simulated reviewers would be found out by these units."""

    learned: WordsLearned
    found_of_simulated: tuple[float, ...]


def described(said: Sequence[LabelledWord]) -> set[str]:
    """The setups of which something was said, as far as that may be told."""
    return {one.setup_id for one in said if one.setup_id is not None}


def material(said: Sequence[LabelledWord], table: UnitBands, lexicon: Lexicon) -> Material:
    """A reviewer's words in force beside the table of what was measured."""
    of = {unit: [one for one in said if one.setup_id == unit] for unit in table.units}
    kept = [place for place, unit in enumerate(table.units) if of[unit]]
    units = tuple(table.units[place] for place in kept)
    places = tuple(tracks_described(of[unit]) for unit in units)
    counted = [one for unit in units for one in of[unit] if not lexicon.likes(one.word.term)]
    names = {lexicon.headword(one.word.term): one for one in reversed(counted)}
    words = []
    for headword, first in names.items():
        uses = tuple(
            tracks_described(one for one in of[unit] if lexicon.headword(one.word.term) == headword).places
            / all_of.places
            for unit, all_of in zip(units, places, strict=True)
        )
        entry = lexicon.find(first.word.term)
        words.append(WordOfReviewer(entry.word if entry else first.word.term, sum(use > 0 for use in uses), uses))
    unlike = sorted((one for one in words if _is_unlike(one)), key=lambda one: (-one.units, one.word))
    asked = {lexicon.headword(one.word) for one in unlike}
    of_them = [one for one in counted if lexicon.headword(one.word.term) in asked]
    return Material(
        units,
        tuple(table.levels_db[place] for place in kept),
        places,
        tuple(unlike),
        len(words) - len(unlike),
        len(of_them),
        sum(one.label == SIGHTED for one in of_them),
    )


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
