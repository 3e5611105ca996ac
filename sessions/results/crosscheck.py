"""Words and curves side by side: which words the measured difference bears out, which it does not, which it cannot.

Only what a blind ballot showed is "heard"; what was said outside of one stands apart as "said". Nothing here says that
what was measured is why it was said. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from ..measured.band_effect import BandEffect
from ..measured.beside_words import DISTORTION_PERCENT, DISTORTION_SOURCE, DISTORTION_STEP_DB, Beside
from ..measured.word_thresholds import AudibleFrom, published
from ..words.lexicon import IN_A_RESPONSE, Entry, Lexicon
from . import crosscheck_sentences
from .crosscheck_sentences import TOLD_WITHIN_DB, UNREPEATED_DB
from .crosschecked import OTHER_WAY_ROUND, OUTCOMES, UNKNOWN, Crosschecked, Outcome, WordOfTwo

RESPONSE = frozenset(IN_A_RESPONSE)
NO_CAUSE = "None of this says that what was measured is why a word was said."


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
        return Crosschecked(word, entry, None, None, UNKNOWN[word.evidence], why)
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
        return OUTCOMES[word.evidence][1], why
    if own < other * step:
        rule = f"less than {DISTORTION_STEP_DB:g} dB apart (our own rule: no repeats of harmonics are kept)"
        return "cannot be told", f"{why}: which of the two has more cannot be told, as they are {rule}"
    if own < high:
        return "cannot be told", f"{why}: those of {names[0] if first else names[1]} lie between"
    return _measured(word, names, why, of_first=first)


def _measured(word: WordOfTwo, names: tuple[str, str], why: str, *, of_first: bool) -> tuple[Outcome, str]:
    """What is plainly measured of one; told where its ballot, without showing it, gave the word rather to the other."""
    if word.first is not None or word.more in (None, of_first):
        return OUTCOMES[word.evidence][0], why
    round_ = OTHER_WAY_ROUND.get(word.evidence, OUTCOMES[word.evidence][0])
    return round_, f"{why}; in the ballot {names[of_first]} got the word more, the other way round"


def _judged(
    word: WordOfTwo, entry: Entry, effect: BandEffect, least: AudibleFrom, names: tuple[str, str]
) -> tuple[Outcome, str]:
    """By the effect in the word's own direction: that of the setup it was said of, or of either where it is not heard.

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
    if own - apart < least.high_db:
        return OUTCOMES[word.evidence][1], told
    return _measured(word, names, told, of_first=of == names[0])


def _other(name: str, names: Sequence[str]) -> str:
    return names[1] if name == names[0] else names[0]
