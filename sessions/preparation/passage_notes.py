"""What is worth knowing of a passage and gives no setup away, for the giveaway check. It keeps nothing."""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from itertools import combinations

from audio.clip import Clip
from audio.files import reading
from audio.giveaways import production, same_sound, timing, unjudged
from audio.giveaways.findings import LIMITS
from audio.parallel import Submit

from ..casebook.catalogue import Passage
from .check_note import Found, Note
from .passage_audio import Source


def notes_on(
    passage: Passage,
    sources: Sequence[Source],
    clips: Mapping[str, Clip],
    submit: Submit = functools.partial,
    *,
    played: Mapping[str, Clip] | None = None,
    found: Sequence[Found] = (),
) -> list[Note]:
    """What is worth knowing and is no giveaway: what could not be told or judged, sound above 20 kHz only some hold.

    All but what is said of the passage itself is said of two setups at a time.

    Parameters
    ----------
    clips
        The passage as it is cut, by the setups' names.
    played
        The same as it would be played, which was checked; None: as it is cut. What could not be judged is said of it.
    found
        What was found in it: that is not said to be beyond judging.
    """
    notes = [Note(said, passage.name) for said in untold(passage, clips)]
    pairs = list(combinations(sources, 2))
    names = [(one.setup.name, other.setup.name) for one, other in pairs]
    held = {name: same_sound.content(clip) for name, clip in clips.items()}
    judged = clips if played is None else played
    kinds = [frozenset(each.kind for each in found if {each.setup, each.against} == set(both)) for both in names]
    asked = [
        (passage.name, judged[one], judged[other], of_pair) for (one, other), of_pair in zip(names, kinds, strict=True)
    ]
    waiting = same_sound.once(submit, _unjudged, asked, [(held[one], held[other]) for one, other in names])
    bits = {source.setup.name: production.word_length(reading.inspect(source.path)) for source in sources}
    for pair, both, unjudged_of in zip(pairs, names, waiting, strict=True):
        said = same_audio(passage, *both) if held[both[0]] == held[both[1]] else []
        said += [same_sound.named(each, *both) for each in unjudged_of()]
        said += word_lengths(passage, {name: bits[name] for name in both})
        if max(source.recording.rate_hz for source in pair) > production.BEYOND_FROM_HZ:
            said += production.beyond_hearing(passage.name, {name: clips[name] for name in both})
        notes += [Note(each, passage.name, both) for each in said]
    return notes


def _unjudged(of: tuple[str, Clip, Clip, frozenset[str]]) -> list[str]:
    """What cannot be judged on a passage, named, between two clips, which are not named; a function to be sent."""
    passage, one, other, found = of
    return unjudged.unjudged(passage, {same_sound.FIRST: one, same_sound.SECOND: other}, found)


def same_audio(passage: Passage, one: str, other: str) -> list[str]:
    """That two setups, by their names, play the same samples, so that nothing can be heard between them.

    Where one is named after the other (NAME-again) it is meant, and nothing is said.
    """
    if f"{one}-again" == other or f"{other}-again" == one:
        return []
    return [
        f"passage {passage.name} is the very same audio of {one} and {other}: nothing tells them apart, so that a plan "
        "of the two can only serve as a control; if they should differ, a wrong file was added"
    ]


def word_lengths(passage: Passage, bits: Mapping[str, int | None]) -> list[str]:
    """That setups' recordings hold unlike numbers of bits, and why that is none of the cues once they are prepared."""
    known = {name: each for name, each in bits.items() if each is not None}
    if not known or max(known.values()) - min(known.values()) <= LIMITS["format-bits"].value:
        return []
    held = " and ".join(f"{each} bits of {name}" for name, each in known.items())
    return [
        f"passage {passage.name} is made from {held}: no giveaway, since all are played from 24 bits with one and the "
        "same dither; what is left of it is noise, which is looked for"
    ]


def untold(passage: Passage, clips: Mapping[str, Clip]) -> list[str]:
    """That no offset or clock can be told in a passage of single tones; the first of the clips is asked."""
    if not timing.untold(next(iter(clips.values()))):
        return []
    return [
        f"passage {passage.name} holds single tones, which fit at every period: no offset and no clock could be told in"
        " it, and none was mended"
    ]
