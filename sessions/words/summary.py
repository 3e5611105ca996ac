"""What was said how often, by whom, when and how: words counted by setup and by track. Pure.

Words are counted as one that differ in capitals, accents and spaces alone; other forms (bright, brighter) stay words
of their own, since they may mean something else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from .blindness import LABELS, LabelledWord
from .folding import folded

NOT_NAMED = "-"


@dataclass(frozen=True)
class SaidAlike:
    """Words said alike of one setup, or in one track.

    Attributes
    ----------
    term
        As it was typed first.
    times
        How often, by label (of `blindness.LABELS`, all three).
    by
        Who said it: the listener's name and how often, in the order in which they began.
    days
        When: the first and the last day (UTC), as ISO dates.
    """

    term: str
    times: Mapping[str, int]
    by: Mapping[str, int]
    days: tuple[str, str]
    strength: float

    @property
    def total(self) -> int:
        """How often in all."""
        return sum(self.times.values())


@dataclass(frozen=True)
class Summary:
    """All words by the setup they were said of and by the track they were said in."""

    setups: Mapping[str, Sequence[SaidAlike]]
    tracks: Mapping[str, Sequence[SaidAlike]]


def summary(words: Sequence[LabelledWord]) -> Summary:
    """The words of a log counted; those said most often first, then those said first.

    What was said in a trial set apart stands under a heading of its own, and counts in no track.
    """
    return Summary(
        _grouped(words, lambda said: said.of),
        _grouped([said for said in words if not said.apart], lambda said: said.word.track or NOT_NAMED),
    )


def _grouped(words: Sequence[LabelledWord], of: Callable[[LabelledWord], str]) -> dict[str, list[SaidAlike]]:
    groups: dict[str, dict[str, list[LabelledWord]]] = {}
    for said in words:
        groups.setdefault(of(said), {}).setdefault(folded(said.word.term), []).append(said)
    names = sorted(groups, key=lambda name: (name == NOT_NAMED, folded(name)))
    return {name: sorted(map(_counted, groups[name].values()), key=lambda one: -one.total) for name in names}


def _counted(alike: Sequence[LabelledWord]) -> SaidAlike:
    by: dict[str, int] = {}
    for said in alike:
        by[said.word.listener] = by.get(said.word.listener, 0) + 1
    days = [said.word.at[:10] for said in alike]
    return SaidAlike(
        alike[0].word.term,
        {label: sum(said.label == label for said in alike) for label in LABELS},
        by,
        (min(days), max(days)),
        sum(said.word.strength for said in alike) / len(alike),
    )
