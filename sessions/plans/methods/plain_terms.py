"""What plans state in the terms of statistics, as it is told to people. Pure: sealed texts never change."""

from __future__ import annotations

from collections.abc import Mapping

from .multi_stimulus import MultiStimulus
from .word_ballot import MANY_IN_WORDS, WordBallot

MANY_TOLD = (
    "for each word, how often chance alone would set the setups as far apart by its {what} as they are. Within each "
    "trial it is exchanged which setup is which, in every way there is or in 10,000 ways drawn by the plan{named}. The "
    "more words, the stricter it is for each (Holm)"
)
POWER_OF: Mapping[str, str] = {
    WordBallot.power_of: "for one word, held to the strict limit that a word meets among all of them: alpha divided by "
    "their number (Holm)",
    MultiStimulus.power_of: "for one pair of setups, held to the strict limit that a pair meets among all of them: "
    "alpha divided by their number (Holm)",
}


def test_told(stated: str, *, rated: bool) -> str:
    """A plan's test as it is told: as it was sealed, but for that of many setups by words, which is put plainly."""
    if stated != MANY_IN_WORDS:
        return stated
    named = "a permutation test" if rated else "a permutation test; of ticks that is Cochran's Q"
    return MANY_TOLD.format(what="ratings" if rated else "ticks", named=f" ({named})")


def power_of_told(stated: str) -> str:
    """What a power is that of, as it is told."""
    return POWER_OF.get(stated, stated)
