"""What `hearing` tells: its cautions, and a run on record, in sentences and as a document."""

from __future__ import annotations

from ..casebook import catalogue
from ..casebook.catalogue import Listener, Setup
from ..casebook.hearing_rows import KeptReach, Side
from ..casebook.store import Casebook
from ..measured import own_reach, own_thresholds
from . import kept_run_told
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


def before_a_run(side: Side, before: KeptReach | None) -> list[str]:
    """What is to be read before a run sounds; `before` is one that is taken up."""
    said = [*CAUTIONS]
    if side != "both":
        said.append(f"It plays on the {side} side alone; for headphones: --side both.")
    if before is not None:
        answers = counted(len(before.answers), "answer")
        level = f"{before.sought.level_dbfs:g} dBFS"
        said.append(
            f"The run of {before.at[:10]}, stopped after {answers} at {level}, goes on at {level}; begin quiet again."
        )
    return said


def found(kept: KeptReach) -> str:
    """What was found, in few words; of a run that was stopped, or tells nothing, that."""
    return kept_run_told.found(kept, own_reach.ended_in_words)


def where(casebook: Casebook, kept: KeptReach) -> str:
    """Through what it played."""
    side = "both sides" if kept.sought.side == "both" else f"the {kept.sought.side} side"
    through = "" if kept.setup_id is None else f"{catalogue.names(casebook, Setup)[kept.setup_id]}, "
    return f"{through}{kept.sought.device}, {side}"


def tell(casebook: Casebook, kept: KeptReach) -> None:
    """Say what a run found, on what, and how."""
    name, sought = catalogue.names(casebook, Listener)[kept.listener_id], kept.sought
    kept_run_told.tell_end(kept, f"{name}, {kept.at[:10]}: ", _end)
    say(f"Played through {where(casebook, kept)}, at {own_reach.level_in_words(sought)}; {sought.rate_hz} Hz.")
    if kept.complete and not own_thresholds.doubt(kept):  # else there is nothing that could hold
        say(LIMITS)


def document(casebook: Casebook, kept: KeptReach) -> dict[str, object]:
    """A run as plain values; what it found and its answers only once it came to its end."""
    return kept_run_told.document(casebook, kept, own_reach.reached)


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
