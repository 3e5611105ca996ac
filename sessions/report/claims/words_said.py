"""What ballots and people say of a word that a claim names: whether they bear it, how often, by whom, where. Pure."""

from __future__ import annotations

from collections.abc import Sequence, Set

from ...results import how_answered
from ...results.crosschecked import WordOfTwo
from ...words.blindness import LABELS, LabelledWord
from ...words.tracks_described import tracks_described
from .claim_rows import Standing
from .standing import TrackTime


def of_ballots(asked: Sequence[WordOfTwo]) -> Standing:
    """What ballots say of a word of the first rather than of the second; only what was heard between two counts."""
    heard = {word.first for word in asked if word.evidence == "heard"}
    return "contradicted" if False in heard else "shown" if True in heard else "not shown"


def of_some(of_others: Set[Standing]) -> Standing:
    """What ballots say of a word of one setup beside several: more than of one and less than of another is neither."""
    found = [one for one in of_others if one in ("shown", "contradicted")]
    return found[0] if len(found) == 1 else "not shown"


def counted(own: Sequence[LabelledWord]) -> str:
    """How often a word was said, how blind, and by whom."""
    often = {label: sum(one.label == label for one in own) for label in LABELS}
    how = ", ".join(f"{label} {number}" for label, number in often.items() if number)
    return f"said {tracks_described(own).told()} ({how}) by {how_answered.listed(list(by(own)))}"


def by(own: Sequence[LabelledWord]) -> tuple[str, ...]:
    """Who said a word, each once."""
    return tuple(dict.fromkeys(one.word.listener for one in own))


def times(own: Sequence[LabelledWord]) -> tuple[TrackTime, ...]:
    """Where in the music words were said, the blindest first."""
    ordered = sorted(own, key=lambda one: LABELS.index(one.label))
    return tuple(
        TrackTime(one.word.track, one.word.track_ms, None, f"{one.word.term}, {one.label}")
        for one in ordered
        if one.word.track
    )
