"""How often a listener ticked each word of a setup with a track, in blind ballots that are over and hold. Pure.

Only trials that count: where all were one setup, what was ticked is of no setup.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from .presented_words import Presented


@dataclass(frozen=True)
class TickedWord:
    """A word of one setup with one track (by name): in how many of its presentations it was ticked."""

    word: str
    setup_id: str
    track: str
    ticked: int
    presentations: int


def of_listener(presented: Iterable[Presented], listener: str, tracks: Mapping[str, str]) -> list[TickedWord]:
    """What one listener (by name) ticked, over all these ballots; `tracks` gives names by identifiers."""
    marks: dict[tuple[str, str, str], list[bool]] = defaultdict(list)
    for trial in presented:
        if trial.listener == listener:
            for setup_id, own in trial.marks.items():
                for word, mark in own.items():
                    marks[word, setup_id, trial.track].append(mark > 0)
    return [
        TickedWord(word, setup_id, tracks.get(track, track), sum(own), len(own))
        for (word, setup_id, track), own in marks.items()
    ]
