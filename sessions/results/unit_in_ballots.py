"""What blind ballots tell of one setup: its words beside each other setup, and how often each word was marked of it.

Only of ballots that are over and hold, as everywhere among others; nothing is read of one that runs. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..words.folding import folded
from ..words.lexicon import Lexicon
from . import presented_words, words_of_two
from .ballots_over import why_left_out
from .crosschecked import WordOfTwo
from .how_answered import listed, number_of
from .review import ReviewedPlan


@dataclass(frozen=True)
class BesideOther:
    """A word of a ballot, of the setup that is asked about rather than of this other one."""

    other: str
    word: WordOfTwo

    @property
    def shown(self) -> bool:
        """Whether the ballot asked about these two and the word was heard of this one, not computed afterwards."""
        return self.word.first is True and self.word.evidence == "heard"

    @property
    def told(self) -> str:
        """Beside whom, in which ballot, and with which numbers."""
        return f"beside {self.other}: {self.word.how}"


@dataclass(frozen=True)
class Marked:
    """What a word got of one setup in all ballots that asked for it: ticks, and the sum of its ratings.

    `asked` counts the trials with ticks, `rated` those with ratings.
    """

    ticks: int = 0
    asked: int = 0
    ratings: float = 0.0
    rated: int = 0

    @property
    def told(self) -> str:
        """In words; empty where no ballot asked for it."""
        parts = []
        if self.asked:
            parts.append(f"ticked in {self.ticks} of {number_of(self.asked, 'trial')} of blind ballots")
        if self.rated:
            mean = self.ratings / self.rated
            parts.append(f"rated {mean:.1f} on average in {number_of(self.rated, 'trial')} of blind ballots")
        return " and ".join(parts)


def held(plans: Iterable[ReviewedPlan]) -> list[ReviewedPlan]:
    """The ballots among these plans that are over and hold."""
    return [one for one in plans if one.verdict.plan.method.asks_words and not why_left_out(one.verdict)]


def beside_others(plans: Iterable[ReviewedPlan], setup_id: str, lexicon: Lexicon) -> list[BesideOther]:
    """The words of the ballots in which a setup took part, beside each other one, in the order of the plans."""
    found = []
    for one in held(plans):
        setups = {own.id: own.name for own in one.verdict.plan.setups}
        if setup_id not in setups:
            continue
        for other, name in setups.items():
            if other != setup_id:
                words = words_of_two.of_judged(one.verdict, one.record, (setup_id, other), lexicon)
                found += [BesideOther(name, word) for word in words]
    return found


def marked(plans: Iterable[ReviewedPlan], setup_id: str, lexicon: Lexicon) -> dict[str, Marked]:
    """How often each word was ticked of a setup, and how it was rated, by word, folded; all that were asked for.

    A word is its headword; where the lexicon came to know two of one ballot as one, each is itself as it was asked for.
    """
    found: dict[str, Marked] = {}
    for one in held(plans):
        rating = bool(one.verdict.plan.ballot.rating)
        for trial in presented_words.of_record(one.record, lexicon).counted:
            for word, mark in trial.marks.get(setup_id, {}).items():
                name = folded(word)
                own = found.get(name, Marked())
                found[name] = (
                    Marked(own.ticks, own.asked, own.ratings + mark, own.rated + 1)
                    if rating
                    else Marked(own.ticks + int(mark > 0), own.asked + 1, own.ratings, own.rated)
                )
    return found


def shown(name: str, words: Sequence[BesideOther]) -> str:
    """The words that blind ballots showed of a setup, each rather than of which others, and to whom; or nothing."""
    others: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for one in words:
        if one.shown:
            others.setdefault((one.word.name, one.word.listeners), []).append(one.other)
    told = [
        f"{word} rather than of {listed(list(dict.fromkeys(of)))} ({listed(list(by))})"
        for (word, by), of in others.items()
    ]
    return f"Blind ballots showed of {name}: {'; '.join(told)}." if told else ""
