"""Words and curves side by side: which words the measured difference bears out, which it does not, which it cannot.

Only what a blind ballot showed is "heard"; what was said outside of one stands apart as "said". Nothing here says that
what was measured is why it was said. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ..measured.band_effect import BandEffect
from ..measured.beside_words import DISTORTION_PERCENT, DISTORTION_SOURCE, DISTORTION_STEP_DB, Beside
from ..measured.word_thresholds import AudibleFrom, published
from ..words.folding import folded
from ..words.lexicon import IN_A_RESPONSE, Entry, Lexicon
from . import crosscheck_sentences
from .crosscheck_sentences import TOLD_WITHIN_DB, UNREPEATED_DB

Evidence = Literal["heard", "heard among several", "not shown", "enough alone", "too few to show", "said"]
Outcome = Literal[
    "heard and measured",
    "heard, not measured",
    "heard among several and measured",
    "heard among several, not measured",
    "measured, not heard",
    "neither heard nor measured",
    "measured, enough by its ballot alone",
    "not measured, enough by its ballot alone",
    "measured, not shown; so few trials could not show it",
    "not measured, not shown; so few trials could not show it",
    "said and measured",
    "said, not measured",
    "said of both alike",
    "heard, nothing measurable is known for this word",
    "heard among several, nothing measurable is known for this word",
    "said, nothing measurable is known for this word",
    "cannot be told",
]
UNDECIDED = "the measurements cannot tell"
_SHOWN: dict[Evidence, str] = {
    "heard": "heard",
    "heard among several": "heard among several",
    "enough alone": "enough by its ballot alone",
}
RESPONSE = frozenset(IN_A_RESPONSE)
NO_CAUSE = "None of this says that what was measured is why a word was said."


@dataclass(frozen=True)
class WordOfTwo:
    """What came of one word between two setups.

    Attributes
    ----------
    first
        Whether it is said of the first setup rather than of the second; None where of neither rather.
    evidence
        Shown by a blind ballot of the two, or by one of more setups, where which of them differ was told afterwards;
        asked in one and not shown; enough by that ballot alone, and not together with the other plans; asked in so few
        trials that no ticks or ratings whatever could have shown it; or only said.
    how
        The same in words, with its numbers.
    listeners
        Who ticked or said it, by name.
    ballot
        The name of the ballot's plan; empty of what was said outside of one.
    asked
        The word as its ballot asked for it, which the lexicon may have renamed or merged since; empty as above.
    labels
        How it was said outside of a ballot, each of the ways there were (`words.blindness.LABELS`).
    """

    term: str
    first: bool | None
    evidence: Evidence
    how: str
    listeners: tuple[str, ...] = ()
    ballot: str = ""
    asked: str = ""
    labels: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The word, and what was asked in its place: nobody ticked a word that was not on the ballot.

        >>> WordOfTwo("boomy", True, "heard", "", asked="thumpy").name
        'boomy (asked as thumpy)'
        """
        alike = not self.asked or folded(self.asked) == folded(self.term)
        return self.term if alike else f"{self.term} (asked as {self.asked})"


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
    remark
        Where the word's band lies by how high its listeners noticed tones, in words; it changes nothing of the outcome,
        and is empty where nobody looked, or where the band lies below that.
    """

    word: WordOfTwo
    entry: Entry | None
    effect: BandEffect | None
    threshold_db: float | None
    outcome: Outcome
    why: str
    audible: AudibleFrom | None = None
    remark: str = ""

    @property
    def measured(self) -> bool:
        """Whether the difference bears the word out, whoever heard it."""
        return self.outcome.endswith("and measured") or self.outcome.startswith("measured")

    @property
    def told(self) -> str:
        """The outcome for people: what a blind ballot showed stays shown where what was measured decides nothing.

        >>> Crosschecked(WordOfTwo("bright", True, "heard", ""), None, None, None, "cannot be told", "").told
        'heard; the measurements cannot tell'
        """
        shown = _SHOWN.get(self.word.evidence)
        return self.outcome if shown is None or self.outcome != "cannot be told" else f"{shown}; {UNDECIDED}"

    @property
    def rank(self) -> int:
        """Which come first where there is room for some: those heard, of these the ones that are decided."""
        if self.word.evidence not in ("heard", "heard among several"):
            return 2
        return int(self.outcome == "cannot be told")


OwnThreshold = Callable[[WordOfTwo, float, float, bool], AudibleFrom | None]
"""What the listeners of a word themselves notice in a band (Hz; whether of less in it); None where nobody looked."""


def nobodys(word: WordOfTwo, low_hz: float, high_hz: float, lack: bool) -> None:
    """No listener's own threshold is known."""
    return None


BesideOf = Callable[[str, float | None, float | None], Beside | None]
"""What was measured of both of another kind (distortion, say) in a band, Hz; None where nothing was."""


def nothing_beside(kind: str, low_hz: float | None, high_hz: float | None) -> None:
    """Nothing was measured beside the responses."""
    return None


ReachOf = Callable[[WordOfTwo, float, float], str]
"""Where a band (Hz) lies by how high the listeners of a word noticed tones, in words; empty for nothing to say."""


def reach_unknown(word: WordOfTwo, low_hz: float, high_hz: float) -> str:
    """Nobody looked how high tones are noticed."""
    return ""


LackingOf = Callable[[float, float], str]
"""Why there is no effect in a band, Hz, in words."""


def unmeasured(low_hz: float, high_hz: float) -> str:
    """That the band was not measured."""
    return f"{low_hz:g} to {high_hz:g} Hz was not measured validly of both"


def crosscheck(
    words: Iterable[WordOfTwo],
    names: tuple[str, str],
    lexicon: Lexicon,
    effect_of: Callable[[float, float], BandEffect | None],
    own_of: OwnThreshold = nobodys,
    beside_of: BesideOf = nothing_beside,
    lacking_of: LackingOf = unmeasured,
    reach_of: ReachOf = reach_unknown,
) -> list[Crosschecked]:
    """Each word with its outcome, in their order; `effect_of` gives the effect in a band, first less second,
    and `lacking_of` why there is none.

    The threshold is the listeners' own where `own_of` knows one, and a published one otherwise. `beside_of` gives what
    was measured of both beside their responses, for words that point there, and `reach_of` what is remarked of a band
    so high.
    """
    found = (_one(word, names, lexicon.find(word.term), effect_of, own_of, beside_of, lacking_of) for word in words)
    return [_remarked(one, reach_of) for one in found]


def _remarked(one: Crosschecked, reach_of: ReachOf) -> Crosschecked:
    if one.entry is None or one.entry.low_hz is None or one.entry.high_hz is None:
        return one
    return replace(one, remark=reach_of(one.word, one.entry.low_hz, one.entry.high_hz))


def _one(
    word: WordOfTwo,
    names: tuple[str, str],
    entry: Entry | None,
    effect_of: Callable[[float, float], BandEffect | None],
    own_of: OwnThreshold,
    beside_of: BesideOf,
    lacking_of: LackingOf,
) -> Crosschecked:
    if entry is None or entry.likes or not entry.shows_in:
        why = (
            "the lexicon has no such word" if entry is None
            else "it says that something was liked" if entry.likes
            else "no measurement is known for it"
        )  # fmt: skip
        return Crosschecked(word, entry, None, None, _UNKNOWN[word.evidence], why)
    if word.evidence == "said" and word.first is None:
        why = "both got it in the same share of their tracks, so that no difference was said"
        return Crosschecked(word, entry, None, None, "said of both alike", why)
    if entry.low_hz is None or entry.high_hz is None or entry.says is None or entry.shows_in[0] not in RESPONSE:
        outcome, why = _beside_the_response(word, entry, names, beside_of)
        return Crosschecked(word, entry, None, None, outcome, why)
    effect = effect_of(entry.low_hz, entry.high_hz)
    if effect is None:
        why = lacking_of(entry.low_hz, entry.high_hz)
        return Crosschecked(word, entry, None, None, "cannot be told", why)
    lack = entry.says == "less"
    least = own_of(word, entry.low_hz, entry.high_hz, lack) or published(entry.low_hz, entry.high_hz, lack=lack)
    if least is None:
        why = "nobody publishes how large a difference so high must be to be heard (threshold find looks for your own)"
        return Crosschecked(word, entry, effect, None, "cannot be told", why)
    outcome, why = _judged(word, entry, effect, least, names)
    return Crosschecked(word, entry, effect, least.db, outcome, why, least)


def _beside_the_response(
    word: WordOfTwo, entry: Entry, names: tuple[str, str], beside_of: BesideOf
) -> tuple[Outcome, str]:
    """A word that points elsewhere than to a band of the response: what was measured there is told.

    Judged is only a word for more distortion that points to nothing else; the others could be about several things.
    """
    points = ", ".join(entry.shows_in)
    found = {kind: beside_of(kind, entry.low_hz, entry.high_hz) for kind in entry.shows_in if kind not in RESPONSE}
    told = "; ".join(one.told for one in found.values() if one is not None)
    distortion = found.get("distortion")
    judged = entry.shows_in == ("distortion",) and entry.says == "more"
    if judged and distortion is not None and distortion.percent is not None:
        return _by_distortion(word, names, distortion.percent, told)
    if told:
        return "cannot be told", f"it could show in {points}: {told}"
    if set(entry.shows_in) <= RESPONSE:
        return "cannot be told", f"it could show in {points}, and nobody gives a band of the response to look at"
    return "cannot be told", f"it could show in {points}, and nothing measured of both here tells of it"


def _by_distortion(
    word: WordOfTwo, names: tuple[str, str], percent: tuple[float, float], told: str
) -> tuple[Outcome, str]:
    """By the harmonics of the setup it was said of, or of the one that has more; they must be plainly more.

    Plainly: by `DISTORTION_STEP_DB` than the other's. Between two that are less far apart nobody knows which has more.
    """
    first = percent[0] >= percent[1] if word.first is None else word.first
    own, other = percent if first else percent[::-1]
    low, high = DISTORTION_PERCENT
    why = f"{told}; {DISTORTION_SOURCE}"
    step = 10 ** (DISTORTION_STEP_DB / 20)
    if own < low or own * step <= other:
        return _OUTCOMES[word.evidence][1], why
    if own < other * step:
        rule = f"less than {DISTORTION_STEP_DB:g} dB apart (our own rule: no repeats of harmonics are kept)"
        return "cannot be told", f"{why}: which of the two has more cannot be told, as they are {rule}"
    if own < high:
        return "cannot be told", f"{why}: those of {names[0] if first else names[1]} lie between"
    return _OUTCOMES[word.evidence][0], why


def _judged(
    word: WordOfTwo, entry: Entry, effect: BandEffect, least: AudibleFrom, names: tuple[str, str]
) -> tuple[Outcome, str]:
    """By the effect in the word's own direction: that of the setup it was said of, or of either where of none.

    An effect decides only where its uncertainty leaves it on one side of the threshold. Without repeats nobody knows
    that uncertainty, and no publication at hand gives one: `UNREPEATED_DB` stands for it. Two numbers that are told
    alike never decide (`TOLD_WITHIN_DB`).
    """
    sign = 1 if entry.says == "more" else -1
    if word.first is None:
        own, of = abs(effect.db), names[0] if sign * effect.db > 0 else names[1]
    else:
        own, of = sign * (1 if word.first else -1) * effect.db, names[0] if word.first else names[1]
    told = (
        f"{crosscheck_sentences.gives(own, entry.says or 'more', of, _other(of, names))}, beside the rest of the range"
    )
    apart = UNREPEATED_DB if effect.expanded_db is None else max(effect.expanded_db, TOLD_WITHIN_DB)
    if effect.expanded_db is None:
        told += ", measured without repeats, so that how surely is not known"
    else:
        one, other = effect.repeats
        told += f" (± {effect.expanded_db:.1f} dB, 95 %, means of {one} and {other} curves)"
    told += f"; {crosscheck_sentences.noticed(least, word.listeners)}"
    if own - apart < least.high_db and own + apart >= least.low_db:
        near = crosscheck_sentences.undecided(own, least, repeated=effect.expanded_db is not None)
        return "cannot be told", f"{told}, {near}"
    known = own - apart >= least.high_db
    return _OUTCOMES[word.evidence][0 if known else 1], told


_OUTCOMES: dict[Evidence, tuple[Outcome, Outcome]] = {  # measured, not measured
    "heard": ("heard and measured", "heard, not measured"),
    "heard among several": ("heard among several and measured", "heard among several, not measured"),
    "not shown": ("measured, not heard", "neither heard nor measured"),
    "enough alone": ("measured, enough by its ballot alone", "not measured, enough by its ballot alone"),
    "too few to show": (
        "measured, not shown; so few trials could not show it",
        "not measured, not shown; so few trials could not show it",
    ),
    "said": ("said and measured", "said, not measured"),
}
_UNKNOWN: dict[Evidence, Outcome] = {
    "heard": "heard, nothing measurable is known for this word",
    "heard among several": "heard among several, nothing measurable is known for this word",
    "not shown": "cannot be told",
    "enough alone": "cannot be told",
    "too few to show": "cannot be told",
    "said": "said, nothing measurable is known for this word",
}


def _other(name: str, names: Sequence[str]) -> str:
    return names[1] if name == names[0] else names[0]
