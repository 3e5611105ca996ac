"""What a sentence names that nothing of its evidence tells of: a number with a unit, a count, a word for sound. Pure.

A list of strong words cannot find "it played at 85 dB". So the rule is turned round: such a thing is marked unless the
evidence says it too, a number rounded as the sentence has it. A claim without evidence is an opinion, and not marked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ...words.folding import compared_of, folded
from ...words.lexicon import Entry, Lexicon
from .wording import Overstated

UNITS = {
    "db": ("dB", 1.0), "dba": ("dB", 1.0), "dbs": ("dB", 1.0), "decibel": ("dB", 1.0), "decibels": ("dB", 1.0),
    "hz": ("Hz", 1.0), "hertz": ("Hz", 1.0), "khz": ("Hz", 1000.0), "kilohertz": ("Hz", 1000.0),
    "ohm": ("ohm", 1.0), "ohms": ("ohm", 1.0), "Ω": ("ohm", 1.0), "ω": ("ohm", 1.0),
    "w": ("W", 1.0), "watt": ("W", 1.0), "watts": ("W", 1.0), "v": ("V", 1.0), "volt": ("V", 1.0), "volts": ("V", 1.0),
    "ms": ("s", 0.001), "%": ("%", 1.0), "percent": ("%", 1.0), "per cent": ("%", 1.0),
}  # fmt: skip
"""What stands behind a number, without capitals: the unit it counts in, and how many of them it is."""

NUMBER = r"\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:[.,]\d+)?"
_UNIT = "|".join(sorted(map(re.escape, UNITS), key=len, reverse=True))
WITH_UNIT = re.compile(
    rf"(?<![\w.,])(?:(?P<low>{NUMBER}) ?(?:to|and|or|-|–) ?)?(?P<number>{NUMBER})[ -]?(?P<unit>{_UNIT})(?!\w)",
    re.IGNORECASE,
)
COUNTED = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen",
    "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty",
)  # fmt: skip
_COUNT = rf"{NUMBER}|{'|'.join(COUNTED)}|a hundred|one hundred"
SHARE = re.compile(
    rf"(?<![\w.,])(?P<some>{_COUNT}) (?:times |trials |answers )?(?:(?:right |rightly )?(?:out of|of|in))(?: the)? "
    rf"(?P<all>{_COUNT})(?!\w)(?! (?:setups?|loudspeakers?|speakers?|headphones?|units?|amplifiers?))",
    re.IGNORECASE,
)
WORD = re.compile(r"[^\W_]+(?:-[^\W_]+)*")
OF_SOUND = re.compile(r"\b(?:sounds?|sounded|sounding)(?: \w+)?$", re.IGNORECASE)
EVERYDAY = frozenset((
    "big", "clear", "close", "covered", "deep", "distant", "distinct", "even", "far", "fast", "flat", "full",
    "hard", "heavy", "keen", "kick", "light", "limited", "near", "open", "present", "quick", "remote", "rich",
    "round", "slow", "small", "soft", "stable", "real", "exact", "true", "fine", "good", "short", "long", "large",
    "balance", "level",
))  # fmt: skip
"""Words that are said of sound and of much else: they count where "sounds" stands before them. Our own choice."""


@dataclass(frozen=True)
class _Quantity:
    """A number with its unit as it is written; `apart` is what its last figure rounds away."""

    written: str
    value: float
    unit: str
    apart: float


def named(text: str, told: Iterable[str], lexicon: Lexicon | None = None, own: Iterable[str] = ()) -> list[Overstated]:
    """What a sentence names and its evidence does not.

    Parameters
    ----------
    told
        What each part of the evidence says, in words; without any the sentence is an opinion.
    lexicon
        Its words are those for sound; None: words are not looked at.
    own
        Names, of setups and listeners, in which numbers and words count for nothing.

    >>> curve = ["curve sallow, more than bracken in 40 to 180 Hz: shown: sallow gives 4.2 dB more than bracken"]
    >>> [one.words for one in named("From 40 to 180 Hz it has 4 dB more, and played at 85 dB.", curve)]
    ['85 dB']
    >>> named("It played at 85 dB.", [])
    []
    """
    evidence = list(told)
    if not evidence:
        return []
    plain = text.replace("\u2019", "'")
    for name in sorted(own, key=len, reverse=True):
        plain = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", "_", plain, flags=re.IGNORECASE)
    found = [
        Overstated(one, "no number of its evidence says so", "the number that the evidence gives, or none")
        for one in dict.fromkeys([*_quantities_not_in(plain, evidence), *_shares_not_in(plain, evidence)])
    ]
    words = [] if lexicon is None else _words_not_in(plain, evidence, lexicon)
    return found + [
        Overstated(one, "its evidence does not tell of this word", "what was heard or measured") for one in words
    ]


def _quantities_not_in(text: str, evidence: Iterable[str]) -> Iterator[str]:
    there = [one for said in evidence for one in _quantities(said)]
    for one in _quantities(text):
        if not any(one.unit == other.unit and abs(one.value - other.value) <= one.apart for other in there):
            yield one.written


def _quantities(text: str) -> Iterator[_Quantity]:
    for match in WITH_UNIT.finditer(text):
        unit, times = UNITS[match["unit"].lower()]
        for number in filter(None, (match["low"], match["number"])):
            value, apart = _number(number)
            written = match[0] if number == match["number"] and not match["low"] else f"{number} {match['unit']}"
            yield _Quantity(written, value * times, unit, apart * times)


def _number(text: str) -> tuple[float, float]:
    """A number as it is written, and half of its last place; a comma before three figures stands between thousands."""
    plain = text.replace(",", "") if re.fullmatch(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?", text) else text.replace(",", ".")
    places = len(plain.partition(".")[2])
    return float(plain), 0.5001 * 10.0**-places


def _shares_not_in(text: str, evidence: Iterable[str]) -> Iterator[str]:
    there = {share for said in evidence for _, share in _shares(said)}
    for written, share in _shares(text):
        if share not in there:
            yield written


def _shares(text: str) -> Iterator[tuple[str, tuple[float, float]]]:
    for match in SHARE.finditer(text):
        yield match[0], (_count(match["some"]), _count(match["all"]))


def _count(text: str) -> float:
    word = text.lower()
    if word in COUNTED:
        return COUNTED.index(word) + 1.0
    return 100.0 if "hundred" in word else _number(text)[0]


def _words_not_in(text: str, evidence: Iterable[str], lexicon: Lexicon) -> list[str]:
    there = {entry.word for said in evidence for _, entry in _of_sound(said, lexicon, everyday=True)}
    found = [written for written, entry in _of_sound(text, lexicon, everyday=False) if entry.word not in there]
    return list(dict.fromkeys(found))


def _of_sound(text: str, lexicon: Lexicon, *, everyday: bool) -> Iterator[tuple[str, Entry]]:
    """The words of a text that the lexicon has, in English, with their headwords; liking is no word for sound."""
    for match in WORD.finditer(text):
        said = folded(match[0])
        entry = lexicon.find(said)
        if entry is None or entry.likes:
            continue
        names = {folded(name) for name in (entry.word, *entry.synonyms)}
        forms = {said, *compared_of(said)}
        if not names & forms:  # another language's word
            continue
        if everyday or not EVERYDAY & forms or OF_SOUND.search(text[: match.start()].rstrip()):
            yield match[0], entry
