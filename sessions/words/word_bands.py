"""Words that somebody has given a band in Hz, each with its source: hypotheses to test, never findings. Pure.

Most have one glossary behind them. Where sources disagree, all are named; words whose sources lie octaves apart, or
that need another shape than a band, do not stand here. "Read": the source was read; "second-hand": in what others
quote of it; "from memory": neither.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .lexicon import IN_A_RESPONSE, Entry, Lexicon, shipped


@dataclass(frozen=True)
class WordBand:
    """Where a word is said to lie, Hz, whether as more or less of it than in something else, and who says so."""

    low_hz: float
    high_hz: float
    says: Literal["more", "less"]
    source: str


def band_of(term: str, lexicon: Lexicon | None = None) -> WordBand | None:
    """The band that somebody gives for a word, or for the one that a lexicon folds it into; None where none is stated.

    >>> band_of("Bright")
    WordBand(low_hz=4000.0, high_hz=8000.0, says='more', source='Holt 1993 glossary, read; others disagree: \
6 to 16 kHz (di Gar Kulka 1972, second-hand)')
    >>> band_of("natural") is None
    True
    """
    entry = (lexicon or shipped()).find(term)
    return _band(entry) if entry is not None and entry.drawn else None


def band_without_source(term: str, lexicon: Lexicon | None = None) -> WordBand | None:
    """The band in a response by which a word is looked at though no picture shows it; None where there is none.

    Nobody gives it in Hz, or others give one octaves away: its source says so.

    >>> found = band_without_source("warm")
    >>> found and (found.low_hz, found.high_hz, found.says, found.source.split(";")[0])
    (100.0, 400.0, 'more', 'band common practice, no source')
    >>> band_without_source("bright") is None
    True
    """
    entry = (lexicon or shipped()).find(term)
    if entry is None or entry.drawn or not entry.shows_in or entry.shows_in[0] not in IN_A_RESPONSE:
        return None
    return _band(entry)


def _band(entry: Entry) -> WordBand | None:
    if entry.low_hz is None or entry.high_hz is None or entry.says is None:
        return None
    return WordBand(entry.low_hz, entry.high_hz, entry.says, entry.source)
