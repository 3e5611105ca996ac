"""Words and curves side by side: which words the measured difference bears out, which it does not, which it cannot.

Only what a blind ballot showed is "heard"; what was said outside of one stands apart as "said". Nothing here says that
what was measured is why it was said. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import isinf
from typing import Literal

from ..measured.band_effect import BandEffect
from ..measured.word_thresholds import AudibleFrom, published
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
    listeners
        Who ticked or said it, by name.
    """

    term: str
    first: bool | None
    evidence: Evidence
    how: str
    listeners: tuple[str, ...] = ()


@dataclass(frozen=True)
class Crosschecked:
    """A word beside what was measured where it points.

    Attributes
    ----------
    effect
        Of the first setup less the second, in the word's band; None where nothing of the kind was measured.
    threshold_db
        What an effect must reach to be taken for audible; None where it is not known, or only an end of its interval.
    audible
        The same with its interval, whose it is, and its source.
    why
        What the outcome rests on, in a sentence.
    """

    word: WordOfTwo
    entry: Entry | None
    effect: BandEffect | None
    threshold_db: float | None
    outcome: Outcome
    why: str
    audible: AudibleFrom | None = None


OwnThreshold = Callable[[WordOfTwo, float, float, bool], AudibleFrom | None]
"""What the listeners of a word themselves notice in a band (Hz; whether of less in it); None where nobody looked."""


def nobodys(word: WordOfTwo, low_hz: float, high_hz: float, lack: bool) -> None:
    """No listener's own threshold is known."""
    return None


def crosscheck(
    words: Iterable[WordOfTwo],
    names: tuple[str, str],
    lexicon: Lexicon,
    effect_of: Callable[[float, float], BandEffect | None],
    own_of: OwnThreshold = nobodys,
) -> list[Crosschecked]:
    """Each word with its outcome, in their order; `effect_of` gives the effect in a band, first less second.

    The threshold is the listeners' own where `own_of` knows one, and a published one otherwise.
    """
    return [_one(word, names, lexicon.find(word.term), effect_of, own_of) for word in words]


def _one(
    word: WordOfTwo,
    names: tuple[str, str],
    entry: Entry | None,
    effect_of: Callable[[float, float], BandEffect | None],
    own_of: OwnThreshold,
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
    lack = entry.says == "less"
    least = own_of(word, entry.low_hz, entry.high_hz, lack) or published(entry.low_hz, entry.high_hz, lack=lack)
    if least is None:
        why = "from which difference on such high bands are heard apart nobody states"
        return Crosschecked(word, entry, effect, None, "cannot be told", why)
    outcome, why = _judged(word, entry, effect, least, names)
    return Crosschecked(word, entry, effect, least.db, outcome, why, least)


def _judged(
    word: WordOfTwo, entry: Entry, effect: BandEffect, least: AudibleFrom, names: tuple[str, str]
) -> tuple[Outcome, str]:
    """By the effect in the word's own direction: that of the setup it was said of, or of either where of none."""
    sign = 1 if entry.says == "more" else -1
    if word.first is None:
        own, of = abs(effect.db), names[0] if sign * effect.db > 0 else names[1]
    else:
        own, of = sign * (1 if word.first else -1) * effect.db, names[0] if word.first else names[1]
    side = entry.says if own >= 0 else _OTHER[entry.says or "more"]
    told = f"{of} gives {abs(own):.1f} dB {side} there than {_other(of, names)}, against the rest of the range"
    apart = effect.expanded_db or 0.0
    if effect.expanded_db is None:
        told += ", not repeated, so that nobody knows how surely"
    else:
        one, other = effect.repeats
        told += f" (± {apart:.1f} dB, 95 %, means of {one} and {other} curves)"
    told += f"; {_noticed(least)}"
    if own - apart < least.high_db and own + apart >= least.low_db:
        return "cannot be told", f"{told}, which lies within that uncertainty"
    known = own - apart >= least.high_db
    heard: dict[Evidence, tuple[Outcome, Outcome]] = {
        "heard": ("heard and measured", "heard, not measured"),
        "not shown": ("measured, not heard", "neither heard nor measured"),
        "said": ("said and measured", "said, not measured"),
    }
    measured, not_measured = heard[word.evidence]
    return (measured if known else not_measured), told


def _noticed(least: AudibleFrom) -> str:
    """From which effect on it is heard, with its interval where it has one."""
    if not least.own:
        return f"{least.high_db:.1f} dB can be heard, as published"
    if isinf(least.high_db):
        return f"up to {least.low_db:.1f} dB the listener's own threshold was not reached"
    middle = "" if least.db is None else f"{least.db:.1f} dB, "
    return f"the listener's own threshold is {middle}{least.low_db:.1f} to {least.high_db:.1f} dB"


_OTHER = {"more": "less", "less": "more"}


def _other(name: str, names: Sequence[str]) -> str:
    return names[1] if name == names[0] else names[0]
