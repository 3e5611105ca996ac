"""What `hearing` tells: its cautions, and a run on record, in sentences and as a document."""

from __future__ import annotations

from ..casebook import catalogue
from ..casebook.catalogue import Listener, Setup
from ..casebook.hearing_rows import KeptReach
from ..casebook.store import Casebook
from ..measured import own_reach, own_thresholds
from .context import counted, say

CAUTIONS = (
    "This is no medical test: it finds which tones you notice on this chain at this level, and says nothing of your "
    "hearing or its health. If you are in doubt of your hearing, or your ears ring or hurt, see a professional.",
    "Turn the volume down before you begin, take a quiet room, sit still and on axis. Tones are short and soft, "
    "never above -20 dBFS. Never turn the volume up because you hear nothing: a tone that is not heard can be loud "
    "all the same, for ears and for tweeters. Stop (q) when anything is uncomfortable.",
)
LIMITS = (
    "It holds for this listener on this chain at this level, and not for their hearing: loudspeakers, headphones, the "
    "room, the place of the head and the level end it as well as ears do, and music may be louder or quieter there. "
    "What a chain makes of a tone (resampling that folds it down, distortion, a resonance) may be noticed in its place."
)


def found(kept: KeptReach) -> str:
    """What was found, in few words; of a run that was stopped, or tells nothing, that."""
    if not kept.complete:
        return f"stopped after {counted(len(kept.answers), 'answer')}"
    if why := own_thresholds.doubt(kept):
        return f"nothing: {why.partition(':')[0].partition(' (')[0]}"
    return own_reach.ended_in_words(kept)


def where(casebook: Casebook, kept: KeptReach) -> str:
    """Through what it played."""
    side = "both sides" if kept.sought.side == "both" else f"the {kept.sought.side} side"
    through = "" if kept.setup_id is None else f"{catalogue.names(casebook, Setup)[kept.setup_id]}, "
    return f"{through}{kept.sought.device}, {side}"


def tell(casebook: Casebook, kept: KeptReach) -> None:
    """Say what a run found, on what, and how."""
    name, sought = catalogue.names(casebook, Listener)[kept.listener_id], kept.sought
    head = f"{name}, {kept.at[:10]}: "
    if kept.complete:
        why = own_thresholds.doubt(kept)
        say(f"{head}{why}." if why else f"{head}{_end(kept)}")
    else:
        say(f"{head}{found(kept)}. A run that was stopped tells nothing yet; the same command takes it up.")
        if wrong := own_thresholds.faults(kept):
            say(f"The record of this run contradicts itself ({wrong[0]}); see earwitness verify.")
    if kept.taken_up:
        say(f"It was left and taken up again {counted(kept.taken_up, 'time')}.")
    say(f"Played through {where(casebook, kept)}, at {own_reach.level_in_words(sought)}; {sought.rate_hz} Hz.")
    if kept.complete:
        say(LIMITS)


def document(casebook: Casebook, kept: KeptReach) -> dict[str, object]:
    """A run as plain values; what it found and its answers only once it came to its end."""
    from ..casebook import documents

    why = own_thresholds.doubt(kept) if kept.complete else ""
    return {
        "id": kept.id,
        "at": kept.at,
        "listener": catalogue.names(casebook, Listener)[kept.listener_id],
        "setup": None if kept.setup_id is None else catalogue.names(casebook, Setup)[kept.setup_id],
        "complete": kept.complete,
        "taken_up": kept.taken_up,
        "found": documents.plain(own_reach.reached(kept)) if kept.complete and not why else None,
        "doubt": why or None,
        "sought": documents.plain(kept.sought),
        "answers": [documents.plain(one) | {"right": one.right} for one in kept.answers] if kept.complete else None,
    }


def _end(kept: KeptReach) -> str:
    from stats.adaptive_threshold import HELD_UP_TO

    sought, told = kept.sought, own_reach.reached(kept)
    sure, right = f"{100 * sought.level:g} %", f"{100 * sought.proportion:.0f} %"
    trials = f"by {len(kept.answers)} trials of {sought.alternatives} presentations"
    if told.place == "below":
        lowest = own_reach.khz(sought.tones_hz[-1])
        return (
            f"no tone was noticed on this chain at this level, down to {lowest}, the lowest that was played "
            f"({sure} sure, {trials})."
        )
    if told.place == "above":
        highest = own_reach.khz(sought.tones_hz[0])
        return (
            f"on this chain at this level tones were noticed up to {highest}, the highest that was played "
            f"({sure} sure, {trials})."
        )
    return (
        f"on this chain at this level tones were noticed up to {own_reach.ended_in_words(kept)} ({sure}, {trials}). "
        f"That is the tone noticed in every second trial that was attended to, which is {right} right with guesses; "
        f"the interval holds for up to {100 * HELD_UP_TO:.0f} % of blind answers."
    )
