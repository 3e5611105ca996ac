"""Words that were logged before at moments of a stretch of music: where each can be heard again, on which setup."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..plans import words_in_trials
from ..words import log
from .free_sounds import Stretch


@dataclass(frozen=True)
class SaidHere:
    """A word, its strength, by whom, of which setup (its place among those at the player), and where in the track."""

    term: str
    strength: int
    listener: str
    setup: int
    track_ms: int


def said_here(casebook: Casebook, setups: Sequence[Setup], stretch: Stretch) -> list[SaidHere]:
    """The words in force that were said within a stretch of one of these setups, the newest first.

    Those said of a setup that may not be told yet are left out, and those without a time in the track.
    """
    places = {setup.id: place for place, setup in enumerate(setups)}
    begin_ms = 1000 * stretch.start_s
    end_ms = begin_ms + 1000 * stretch.length_s
    words = [
        word
        for word in log.words(casebook, track_id=stretch.track.id)
        if word.track_ms is not None and begin_ms <= word.track_ms < end_ms
    ]
    return [
        SaidHere(one.word.term, one.word.strength, one.word.listener, places[one.setup_id], one.word.track_ms or 0)
        for one in reversed(words_in_trials.labelled(casebook, words))
        if one.setup_id in places
    ]
