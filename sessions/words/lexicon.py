"""Words for sound, each with a definition of our own, its family, its opposite and what could be measured of it. Pure.

What is shipped is `lexicon_N.csv`, which never changes once it is released: a casebook says which number it began with.
A reviewer's own words, renames and merges are changes laid over it, in order. A band is a hypothesis with its source,
never a finding; other languages' words are our translations, not words elicited from listeners of that language.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Literal

from ..errors import CatalogueError
from .folding import compared_of, declined_of, folded
from .said_where import said_where

NEWEST = 2  # the number of the newest lexicon that is shipped
LANGUAGES = {"de": "German", "fr": "French", "es": "Spanish"}
LONGEST_WORD = 60
LONGEST_TEXT = 2000
IN_A_RESPONSE = ("on-axis", "in-room")  # what shows as more or less in a curve; other words need another measurement
LIKING = "liking"  # the family of words that say whether something was liked
ASK_WHAT_WAS_HEARD = "says whether you liked it. Which word says what you heard?"
Says = Literal["more", "less"]


@dataclass(frozen=True)
class Entry:
    """One headword.

    Attributes
    ----------
    synonyms
        Words folded into this one; each stands under one headword only.
    family
        Such as ``timbre/bass`` or ``space``; ``liking`` for words that judge instead of describing.
    opposite
        The word at the other end; it need not be a headword.
    translations
        Words of other languages, by their two letters.
    low_hz, high_hz, says
        Where, Hz, and whether it is said of more or of less than elsewhere; None where nobody gives a band or a side.
    drawn
        Whether somebody gives the band in Hz and no other source lies octaves away, so that it may stand in a picture.
    shows_in
        In which kinds of measured data it could show, the one its band and side are said of first; empty: nothing
        measurable is known for this word.
    source
        Who says so, and how it was read; "common practice, no source" where nobody does.
    also_in
        Published schemes that name something of the kind.
    own
        Whether the reviewer added it.
    """

    word: str
    synonyms: tuple[str, ...] = ()
    family: str = ""
    definition: str = ""
    opposite: str = ""
    translations: Mapping[str, str] = field(default_factory=dict)
    low_hz: float | None = None
    high_hz: float | None = None
    says: Says | None = None
    drawn: bool = False
    shows_in: tuple[str, ...] = ()
    source: str = ""
    also_in: str = ""
    own: bool = False

    @property
    def likes(self) -> bool:
        """Whether it says that something was liked, and not what was heard."""
        return self.family == LIKING

    @property
    def where(self) -> str:
        """Its band and side in words, of the first kind of data it shows in; empty where nobody gives a band.

        >>> shipped().named("bright").where, shipped().named("tight").where
        ('more of 4 to 8 kHz', 'shorter decay, 20 to 250 Hz')
        >>> shipped().named("smooth").where, shipped().named("off-centre").where
        ('more even, 1 to 16 kHz', 'channels unalike, 0.2 to 16 kHz')
        """
        if self.low_hz is None or self.high_hz is None:
            return ""
        in_a_response = not self.shows_in or self.shows_in[0] in IN_A_RESPONSE
        return said_where(self.low_hz, self.high_hz, self.says, "" if in_a_response else self.shows_in[0])


class Lexicon:
    """Headwords by name, and everything that is folded into them."""

    def __init__(self, entries: Iterable[Entry], number: int = NEWEST) -> None:
        self.number = number
        self.entries = {entry.word: entry for entry in entries}
        self._headwords = {name: entry.word for entry in self.entries.values() for name in _folded_names(entry)}

    def with_entry(self, entry: Entry, instead_of: str) -> Lexicon:
        """The lexicon with an entry in place of one, its own or another; other names are not folded anew."""
        gone = {entry.word, instead_of}
        after = Lexicon((), self.number)
        after.entries = {word: kept for word, kept in self.entries.items() if word != instead_of or word == entry.word}
        after.entries[entry.word] = entry
        after._headwords = {name: word for name, word in self._headwords.items() if word not in gone}
        after._headwords |= dict.fromkeys(_folded_names(entry), entry.word)
        return after

    def find(self, term: str) -> Entry | None:
        """The headword that a term stands for: itself, a synonym, another language's word or a form of one (brighter).

        None for other terms.
        """
        said = folded(term)
        if said in self._headwords:
            return self.entries[self._headwords[said]]
        for form in compared_of(said):
            if form in self._headwords:
                return self.entries[self._headwords[form]]
        for form in declined_of(said):
            entry = self.holding(form)
            if entry is not None and folded(entry.translations.get("de", "")) == form:
                return entry
        return None

    def holding(self, name: str) -> Entry | None:
        """The headword under which this very name stands; None where it stands nowhere."""
        word = self._headwords.get(folded(name))
        return None if word is None else self.entries[word]

    def headword(self, term: str) -> str:
        """What a term counts as: its headword, or itself folded where the lexicon has none."""
        entry = self.find(term)
        return entry.word if entry else folded(term)

    def likes(self, term: str) -> bool:
        """Whether a term says that something was liked, and not what was heard."""
        entry = self.find(term)
        return entry is not None and entry.likes

    def named(self, term: str) -> Entry:
        """The headword that a term stands for.

        Raises
        ------
        CatalogueError
            If there is none; with the nearest words.
        """
        entry = self.find(term)
        if entry is None:
            hint = self.meant(term) or "see earwitness lexicon list"
            raise CatalogueError(f"the lexicon has no word {term!r}; {hint}")
        return entry

    def meant(self, term: str) -> str:
        """A question by the name that is nearest to a term, its headword behind it; empty where none is near."""
        near = get_close_matches(folded(term), self._headwords, 1)
        if not near:
            return ""
        name, word = near[0], self._headwords[near[0]]
        return f"did you mean {word!r}?" if folded(word) == name else f"did you mean {name!r}? It counts as {word!r}"


@cache
def shipped(number: int = NEWEST) -> Lexicon:
    """The lexicon of that number, as it was released.

    Raises
    ------
    CatalogueError
        If this version of the program has none of that number.

    >>> shipped().find("Thumpy").word, shipped().find("dröhnend").word
    ('boomy', 'boomy')
    """
    if not 1 <= number <= NEWEST:
        raise CatalogueError(
            f"this casebook's lexicon is number {number}; this version of earwitness has 1 to {NEWEST}: "
            "please use the version that wrote it, or a newer one"
        )
    text = Path(__file__).with_name(f"lexicon_{number}.csv").read_text(encoding="utf-8")
    return Lexicon((entry_of(row) for row in csv.DictReader(text.splitlines())), number)


def entry_of(row: Mapping[str, str]) -> Entry:
    """An entry from a row of text, by column names; columns that are missing are left empty.

    Raises
    ------
    CatalogueError
        If the word is missing or overlong, a band is no band, or a side is neither more nor less.
    """
    word = " ".join((row.get("word") or "").split())
    says = (row.get("says") or "").strip().casefold()
    if says not in ("", "more", "less"):
        raise CatalogueError(f"the word {word!r} says {says!r}; give 'more', 'less' or nothing")
    low_hz, high_hz = (_hertz(word, row.get(name) or "") for name in ("low_hz", "high_hz"))
    entry = Entry(
        word,
        _parts(row.get("synonyms") or ""),
        (row.get("family") or "").strip(),
        (row.get("definition") or "").strip(),
        " ".join((row.get("opposite") or "").split()),
        {code: row[code].strip() for code in LANGUAGES if (row.get(code) or "").strip()},
        low_hz,
        high_hz,
        says or None,  # type: ignore[arg-type]
        (row.get("drawn") or "").strip() == "yes",
        _parts(row.get("shows_in") or ""),
        (row.get("source") or "").strip(),
        (row.get("also_in") or "").strip(),
        (row.get("own") or "").strip() == "yes",
    )
    check(entry)
    return entry


def row_of(entry: Entry) -> dict[str, str]:
    """An entry as a row of text, which `entry_of` reads as the same entry."""
    return {
        "word": entry.word,
        "synonyms": "|".join(entry.synonyms),
        "family": entry.family,
        "definition": entry.definition,
        "opposite": entry.opposite,
        **{code: entry.translations.get(code, "") for code in LANGUAGES},
        "low_hz": "" if entry.low_hz is None else f"{entry.low_hz:.10g}",
        "high_hz": "" if entry.high_hz is None else f"{entry.high_hz:.10g}",
        "says": entry.says or "",
        "drawn": "yes" if entry.drawn else "",
        "shows_in": "|".join(entry.shows_in),
        "source": entry.source,
        "also_in": entry.also_in,
        "own": "yes" if entry.own else "",
    }


def check(entry: Entry) -> None:
    """Whether an entry can be one.

    Raises
    ------
    CatalogueError
        If a name is missing or overlong, a text too long, or the band is half of one, upside down or not above 0 Hz.
    """
    for name in (entry.word, *entry.synonyms, *entry.translations.values(), entry.opposite):
        if len(name) > LONGEST_WORD or (not name and name is entry.word):
            raise CatalogueError(f"a word has 1 to {LONGEST_WORD} characters; got {len(name)} in {entry.word!r}")
    if max(len(text) for text in (entry.definition, entry.source, entry.family, entry.also_in)) > LONGEST_TEXT:
        raise CatalogueError(f"a text of the word {entry.word!r} is longer than {LONGEST_TEXT} characters")
    if (entry.low_hz is None) != (entry.high_hz is None):
        raise CatalogueError(f"the band of {entry.word!r} has one end only; give both, in Hz, or none")
    if entry.low_hz is not None and entry.high_hz is not None and not 0 < entry.low_hz < entry.high_hz:
        raise CatalogueError(
            f"the band of {entry.word!r} is {entry.low_hz:g} to {entry.high_hz:g} Hz; give the lower end first, above 0"
        )


def _folded_names(entry: Entry) -> list[str]:
    """All that is folded into an entry, as words are compared."""
    return [folded(name) for name in (entry.word, *entry.synonyms, *entry.translations.values())]


def _parts(text: str) -> tuple[str, ...]:
    return tuple(" ".join(part.split()) for part in text.split("|") if part.strip())


def _hertz(word: str, text: str) -> float | None:
    if not text.strip():
        return None
    try:
        return float(text)
    except ValueError:
        raise CatalogueError(f"the band of {word!r} holds {text.strip()!r}, which is no number of Hz") from None


COLUMNS = tuple(row_of(Entry("any")))
