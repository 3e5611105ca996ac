"""Words that somebody has given a band in Hz, each with its source: hypotheses to test, never findings. Pure.

Most have one glossary behind them. Where sources disagree, all are named; words whose sources lie octaves apart, or
that need another shape than a band, do not stand here. "Read": the source was read; "second-hand": in what others
quote of it; "from memory": neither.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .folding import folded

HOLT = "Holt 1993 glossary, read"
KULKA = "di Gar Kulka 1972, second-hand"
REPRINT = "a glossary reprinted without its author, read"


@dataclass(frozen=True)
class WordBand:
    """Where a word is said to lie, Hz, whether as more or less of it than in something else, and who says so."""

    low_hz: float
    high_hz: float
    says: Literal["more", "less"]
    source: str


BANDS = {
    "deep": WordBand(20, 40, "more", f"below 40 Hz: {HOLT}; 16 to 60 Hz: {KULKA}"),
    "bassy": WordBand(20, 200, "more", f"below 200 Hz: {REPRINT}; below 160 Hz: {HOLT}; below 250 Hz: {KULKA}"),
    "bass-light": WordBand(20, 150, "less", f"a roll-off below about 150 Hz: {HOLT}"),
    "boomy": WordBand(60, 250, "more", f"{KULKA}; others disagree: 40 to 80 Hz ({HOLT}), about 125 Hz ({REPRINT})"),
    "chesty": WordBand(80, 320, "more", f"{HOLT}; 125 to 250 Hz: {REPRINT}"),
    "thin": WordBand(20, 500, "less", f"below 500 Hz: {HOLT}; 60 to 250 Hz: {KULKA}"),
    "boxy": WordBand(250, 500, "more", f"{REPRINT}; about 250 Hz: {HOLT}"),
    "honky": WordBand(400, 1000, "more", f"500 to 1000 Hz: {KULKA}; about 450 Hz: {HOLT}"),
    "tinny": WordBand(1000, 2000, "more", f"{KULKA}; others file it under treble"),
    "harsh": WordBand(2000, 6000, "more", f"a glossary, from memory; about 3 kHz: {KULKA}"),
    "hard": WordBand(3000, 7000, "more", f"about 6 kHz: {HOLT}; about 3 kHz: a glossary, from memory"),
    "bright": WordBand(4000, 8000, "more", f"{HOLT}; others disagree: 6 to 16 kHz ({KULKA})"),
    "near": WordBand(4000, 6000, "more", KULKA),
    "distant": WordBand(4000, 6000, "less", KULKA),
    "sibilant": WordBand(4000, 10_000, "more", f"sources disagree: 6 to 16 kHz ({KULKA}), 4 to 7 kHz (second-hand)"),
    "sharp": WordBand(3000, 20_000, "more", "where the weight of DIN 45692 rises, its formula read"),
    "dull": WordBand(5000, 20_000, "less", f"a roll-off from about 5 kHz: {HOLT}"),
    "muffled": WordBand(2000, 20_000, "less", f"a roll-off above about 2 kHz: {HOLT}"),
    "sizzly": WordBand(8000, 16_000, "more", f"above 8 kHz: {HOLT}"),
    "airy": WordBand(10_000, 20_000, "more", f"15 to 20 kHz: {REPRINT}; 10 to 15 kHz in voices: second-hand"),
}


def band_of(term: str) -> WordBand | None:
    """The band that somebody gives for a word; None where none is stated.

    >>> band_of("Bright")
    WordBand(low_hz=4000, high_hz=8000, says='more', source='Holt 1993 glossary, read; others disagree: \
6 to 16 kHz (di Gar Kulka 1972, second-hand)')
    >>> band_of("natural") is None
    True
    """
    return BANDS.get(folded(term))
