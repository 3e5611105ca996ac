"""Words at the desk: what was said of each setup as far as that may be told, and ballots that are over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..plans import words_in_trials
from ..words import lexicon_rows, log, profile
from ..words.profile import Use
from . import ended
from .ended import BallotTable


@dataclass(frozen=True)
class Said:
    """The words of a setup."""

    setup: str
    tracks: int
    others: int
    used: Sequence[Use]
    never: Sequence[str]


@dataclass(frozen=True)
class Words:
    """The page of words."""

    said: Sequence[Said]
    ballots: Sequence[BallotTable]
    waiting: Sequence[str]


def gather(casebook: Casebook) -> Words:
    """All words in force; of trials whose plan is open only what may be told."""
    labelled = words_in_trials.labelled(casebook, log.words(casebook))
    lexicon = lexicon_rows.in_force(casebook)
    said = []
    for setup in catalogue.everything(casebook, Setup):
        own = profile.profile(labelled, setup.id, setup.name, lexicon)
        if own.used:
            said.append(Said(setup.name, own.tracks, own.others, own.used, [one.word for one in own.never]))
    ballots, waiting = ended.ballots(casebook)
    return Words(said, ballots, waiting)
