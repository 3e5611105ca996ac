"""Words and curves side by side: which words the measured difference bears out, which it does not, which it cannot.

Only what a blind ballot showed is "heard"; what was said outside of one stands apart as "said". Nothing here says that
what was measured is why it was said. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from ..measured.band_effect import BandEffect
from ..measured.word_thresholds import word_threshold_db
from ..words.lexicon import Entry, Lexicon

Evidence = Literal["heard", "not shown", "said"]
Outcome = Literal[
    "heard and measured",
    "heard, not measured",
    "measured, not heard",
    "neither heard nor measured",
    "said and measured",
    "said, not measured",
    "heard, nothing measurable is known for this word",
    "said, nothing measurable is known for this word",
    "cannot be told",
]
RESPONSE = frozenset(("on-axis", "in-room"))
NO_CAUSE = "None of this says that what was measured is why a word was said."


@dataclass(frozen=True)
class WordOfTwo:
    """What came of one word between two setups.

    Attributes
    ----------
    first
        Whether it is said of the first setup rather than of the second; None where of neither rather.
    evidence
        Shown by a blind ballot, asked in one and not shown, or only said.
    how
        The same in words, with its numbers.
    """

    term: str
    first: bool | None
    evidence: Evidence
    how: str


@dataclass(frozen=True)
class Crosschecked:
    """A word beside what was measured where it points.

    Attributes
    ----------
    effect
        Of the first setup less the second, in the word's band; None where nothing of the kind was measured.
    threshold_db
        What an effect must reach to be taken for audible.
    why
        What the outcome rests on, in a sentence.
    """

    word: WordOfTwo
    entry: Entry | None
    effect: BandEffect | None
    threshold_db: float | None
    outcome: Outcome
    why: str


def crosscheck(
    words: Iterable[WordOfTwo],
    names: tuple[str, str],
    lexicon: Lexicon,
    effect_of: Callable[[float, float], BandEffect | None],
) -> list[Crosschecked]:
    """Each word with its outcome, in their order; `effect_of` gives the effect in a band, first less second."""
    return [_one(word, names, lexicon.find(word.term), effect_of) for word in words]


def _one(
    word: WordOfTwo,
    names: tuple[str, str],
    entry: Entry | None,
    effect_of: Callable[[float, float], BandEffect | None],
) -> Crosschecked:
    if entry is None or entry.likes or not entry.shows_in:
        why = (
            "the lexicon has no such word" if entry is None
            else "it says that something was liked" if entry.likes
            else "no measurement is known for it"
        )  # fmt: skip
        unknown: Outcome = (
            "heard, nothing measurable is known for this word" if word.evidence == "heard"
            else "said, nothing measurable is known for this word" if word.evidence == "said"
            else "cannot be told"
        )  # fmt: skip
        return Crosschecked(word, entry, None, None, unknown, why)
    if entry.low_hz is None or entry.high_hz is None or entry.says is None or entry.shows_in[0] not in RESPONSE:
        points = ", ".join(entry.shows_in)
        why = f"it could show in {points}, and nobody gives a band of the response to look at"
        return Crosschecked(word, entry, None, None, "cannot be told", why)
    effect = effect_of(entry.low_hz, entry.high_hz)
    if effect is None:
        why = f"{entry.low_hz:g} to {entry.high_hz:g} Hz was not measured validly of both"
        return Crosschecked(word, entry, None, None, "cannot be told", why)
    least = word_threshold_db(entry.low_hz, entry.high_hz, lack=entry.says == "less")
    if least is None:
        why = "from which difference on such high bands are heard apart nobody states"
        return Crosschecked(word, entry, effect, None, "cannot be told", why)
    outcome, why = _judged(word, entry, effect, least, names)
    return Crosschecked(word, entry, effect, least, outcome, why)


def _judged(
    word: WordOfTwo, entry: Entry, effect: BandEffect, least: float, names: tuple[str, str]
) -> tuple[Outcome, str]:
    """By the effect in the word's own direction: that of the setup it was said of, or of either where of none."""
    sign = 1 if entry.says == "more" else -1
    if word.first is None:
        own, of = abs(effect.db), names[0] if sign * effect.db > 0 else names[1]
    else:
        own, of = sign * (1 if word.first else -1) * effect.db, names[0] if word.first else names[1]
    side = entry.says if own >= 0 else _OTHER[entry.says or "more"]
    told = f"{of} gives {abs(own):.1f} dB {side} there than {_other(of, names)}, against the rest of the range"
    if effect.expanded_db is None:
        told += ", not repeated, so that nobody knows how surely"
        known: bool | None = own >= least
    else:
        one, other = effect.repeats
        told += f" (± {effect.expanded_db:.1f} dB, 95 %, means of {one} and {other} curves)"
        known = (
            True if own - effect.expanded_db >= least else False if own + effect.expanded_db < least else None
        )  # fmt: skip
    told += f"; {least:.1f} dB can be heard"
    if known is None:
        return "cannot be told", f"{told}, which lies within that uncertainty"
    heard: dict[Evidence, tuple[Outcome, Outcome]] = {
        "heard": ("heard and measured", "heard, not measured"),
        "not shown": ("measured, not heard", "neither heard nor measured"),
        "said": ("said and measured", "said, not measured"),
    }
    measured, not_measured = heard[word.evidence]
    return (measured if known else not_measured), told


_OTHER = {"more": "less", "less": "more"}


def _other(name: str, names: Sequence[str]) -> str:
    return names[1] if name == names[0] else names[0]
