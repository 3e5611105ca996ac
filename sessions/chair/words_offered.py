"""The words that are offered where one is to be logged: a plan's ballot, or the listener's own, then the lexicon."""

from __future__ import annotations

from collections import Counter

from ..casebook.store import Casebook
from ..plans import seals
from ..words import lexicon_rows, log

APART = 6  # words of the lexicon that stand beside each other are of one kind: a handful at hand is of all kinds


def words_offered(casebook: Casebook, plan: str) -> list[str]:
    """Words in the order in which they are offered, each once; anything else may be said, too."""
    ballot = seals.sealed_plan(casebook, plan).plan.method.listed
    return list(dict.fromkeys([*ballot, *lexicon_rows.in_force(casebook).entries]))


def used_by(casebook: Casebook, listener: str) -> list[str]:
    """For free listening: the words this listener used so far, the most used first, then those of the lexicon."""
    own = Counter(word.term for word in log.words(casebook) if word.listener == listener)
    known = list(lexicon_rows.in_force(casebook).entries)
    spread = [word for first in range(APART) for word in known[first::APART]]
    return list(dict.fromkeys([*(term for term, _ in own.most_common()), *spread]))
