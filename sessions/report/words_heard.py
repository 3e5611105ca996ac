"""The words heard, placed on the difference of two curves where somebody gives a band for them. Pure.

A word in its band is a hypothesis that can be looked at, and no more: nothing here says that what was measured is why
it was said. How each was said is told as in the table of words.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from audio.curves.lanes import Marked

from ..results.crosscheck_of_two import ReachByName
from ..words.blindness import IN_A_BLIND_TRIAL
from ..words.folding import folded
from ..words.lexicon import Lexicon
from ..words.word_bands import WordBand, band_of, band_without_source
from .word_rows import WordRow

EXPLAINED = (
    "Words heard stand over the band that somebody gives for them: a hypothesis, not a cause. Whole bar: said in a "
    "blind trial; broken: sighted, or said to be blind. Above or below 0: where the line would lie if the word holds."
)


NOT_DRAWN = "It is not drawn: nobody gives that band in Hz, or others give one octaves away."


def reach_unknown(listeners: Sequence[str], low_hz: float, high_hz: float) -> str:
    """Nobody looked how high tones are noticed."""
    return ""


@dataclass(frozen=True)
class Heard:
    """Words said alike of one setup, and how often; `sign` is 1 where that is the first of the two, else -1.

    `by` names who said them.
    """

    term: str
    of: str
    how: str
    times: int
    sign: int = 1
    by: tuple[str, ...] = ()

    def side(self, band: WordBand) -> str:
        """On which side of 0 the first less the second lies there, if the word holds."""
        return "above 0" if (band.says == "more") == (self.sign > 0) else "below 0"

    @property
    def words(self) -> str:
        """As a picture shows it."""
        return f"{self.term}: {self.of}, {self.how}" + (f", {self.times} times" if self.times > 1 else "")


@dataclass(frozen=True)
class WordsHeard:
    """The words of a comparison: those placed with their bands, those that no band is stated for, or not measured.

    `not_drawn` have a band without a source, or from which others lie octaves away: told, and not drawn.
    """

    placed: Sequence[tuple[Heard, WordBand]]
    without_band: Sequence[Heard]
    not_measured: Sequence[tuple[Heard, WordBand]]
    not_drawn: Sequence[tuple[Heard, WordBand]] = ()
    reach_of: ReachByName = reach_unknown

    def marked(self) -> tuple[Marked, ...]:
        """What is drawn: said in a blind trial first, then by frequency."""
        ordered = sorted(self.placed, key=lambda one: (one[0].how != IN_A_BLIND_TRIAL, one[1].low_hz, one[1].high_hz))
        return tuple(
            Marked(band.low_hz, band.high_hz, f"{one.words}, {one.side(band)}", one.how == IN_A_BLIND_TRIAL)
            for one, band in ordered
        )

    def lines(self) -> list[str]:
        """What stands under the picture: each word's band with its source, and the words that are not on it."""
        found = [f"{_hypothesis(one, band)}{self._reach(one, band)}" for one, band in self.placed]
        found += [f"{_hypothesis(one, band)} {NOT_DRAWN}{self._reach(one, band)}" for one, band in self.not_drawn]
        if self.without_band:
            found.append(f"Said, with no measurable band stated: {_listed(self.without_band)}.")
        if self.not_measured:
            told = "; ".join(f"{one.words} ({_in_hz(band)})" for one, band in self.not_measured)
            found.append(f"Said, in a band that was not measured validly: {told}.")
        return found

    def _reach(self, one: Heard, band: WordBand) -> str:
        """Where the word's band lies by how high those who said it noticed tones: a remark."""
        told = self.reach_of(one.by, band.low_hz, band.high_hz)
        return f" {told}." if told else ""


def words_heard(
    rows: Sequence[WordRow],
    setups: Mapping[str, str],
    valid_hz: tuple[float, float],
    lexicon: Lexicon | None = None,
    reach_of: ReachByName = reach_unknown,
) -> WordsHeard:
    """The words in force of two setups (names by identifier), where the difference, first less second, is valid.

    Their bands are those of a lexicon, or of the one that is shipped; `reach_of` says what is remarked of a band so
    high.
    """
    own = [row for row in rows if row.setup_id and row.setup_id in setups]
    written = {folded(row.term): row.term for row in reversed(own)}  # as it was typed first
    said = [(folded(row.term), setups[row.setup_id or ""], row.how) for row in own]
    counted = Counter(said)
    placed, without, not_measured, not_drawn = [], [], [], []
    for (term, of, how), times in counted.items():
        first = of == next(iter(setups.values()))
        by = tuple(dict.fromkeys(row.listener for row, one in zip(own, said, strict=True) if one == (term, of, how)))
        heard, drawn = Heard(written[term], of, how, times, 1 if first else -1, by), band_of(term, lexicon)
        band = drawn or band_without_source(term, lexicon)
        if band is None:
            without.append(heard)
        elif band.high_hz <= valid_hz[0] or band.low_hz >= valid_hz[1]:
            not_measured.append((heard, band))
        elif drawn is None:
            not_drawn.append((heard, band))
        else:
            placed.append((heard, band))
    return WordsHeard(placed, without, not_measured, not_drawn, reach_of)


def _hypothesis(one: Heard, band: WordBand) -> str:
    words = f"{one.words}. The hypothesis: {_in_hz(band)}, {band.says} ({band.source})"
    return f"{words}; so the line would lie {one.side(band)} there."


def _in_hz(band: WordBand) -> str:
    return f"{band.low_hz:g} to {band.high_hz:g} Hz"


def _listed(heard: Sequence[Heard]) -> str:
    return "; ".join(one.words for one in heard)
