"""What `threshold` and `hearing` tell alike of runs by the adaptive rule, in sentences and as documents."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from ..casebook import catalogue
from ..casebook.catalogue import Listener, Setup
from ..casebook.store import Casebook
from ..casebook.threshold_rows import KeptRun, Searched
from ..errors import CatalogueError
from .context import counted, say

EDITED = (
    "THE RECORD DOES NOT HOLD (earwitness verify says where): what stands here may have been edited, and shows nothing."
)
TAKEN_UP = "the command that began it takes it up, without --anew"
S = TypeVar("S", bound=Searched)


def named(every: Sequence[KeptRun[S]], run: str, where: str) -> KeptRun[S]:
    """A run by its identifier; `where` is the command that lists them.

    Raises
    ------
    CatalogueError
        If there is none.
    """
    for one in every:
        if one.id == run:
            return one
    raise CatalogueError(f"there is no run {run!r}; see earwitness {where}")


def found(kept: KeptRun[S], ended: Callable[[KeptRun[S]], str]) -> str:
    """What was found, in few words, as `ended` tells it; of a run that was stopped, or tells nothing, that."""
    from ..measured import own_thresholds

    if not kept.complete:
        return f"stopped after {counted(len(kept.answers), 'answer')}"
    if why := own_thresholds.doubt(kept):
        return f"nothing: {why.partition(':')[0].partition(' (')[0]}"
    return ended(kept)


def tell_end(kept: KeptRun[S], head: str, ended: Callable[[KeptRun[S]], str]) -> None:
    """Say behind a head what a run found, as `ended` tells it, or that it tells nothing; and how often it was left."""
    from ..measured import own_thresholds

    if kept.complete:
        why = own_thresholds.doubt(kept)
        say(f"{head}{why}." if why else f"{head}{ended(kept)}")
    else:
        say(f"{head}{found(kept, ended)}. A run that was stopped tells nothing yet; {TAKEN_UP}.")
        if wrong := own_thresholds.faults(kept):
            say(f"The record of this run contradicts itself ({wrong[0]}); see earwitness verify.")
    if kept.taken_up:
        say(f"It was left and taken up again {counted(kept.taken_up, 'time')}.")


def tell_next(kept: KeptRun[S], as_json: bool) -> None:
    """Say of a run that was just left with which command it goes on, or begins again where it told nothing."""
    from ..measured import own_thresholds
    from . import same_command

    command = same_command.taken_up_by()
    if not kept.complete:
        say(f"Stopped after {counted(len(kept.answers), 'answer')}, kept; to take it up: {command}", as_json)
    elif own_thresholds.doubt(kept):
        say(f"Another run, where each presentation is heard before one is named: {command}", as_json)


def tell_if_edited(casebook: Casebook, as_json: bool) -> bool:
    """Say so where the casebook's record does not hold; whether it holds."""
    from ..results import verification

    if not verification.verify(casebook).broken:
        return True
    say(EDITED, as_json)
    return False


def tell_slips(slips: float) -> None:
    """Say of a simulated listener with many slips that intervals hold less often."""
    from stats.adaptive_threshold import HELD_UP_TO

    if slips > HELD_UP_TO:
        say(f"With more than {100 * HELD_UP_TO:.0f} % of blind answers an interval holds less often than it says.")


def document(
    casebook: Casebook, kept: KeptRun[S], read: Callable[[KeptRun[S]], object], more: dict[str, object] | None = None
) -> dict[str, object]:
    """A run as plain values; what it found (as it is `read`) and its answers only once it came to its end."""
    from ..casebook import documents
    from ..measured import own_thresholds

    why = own_thresholds.doubt(kept) if kept.complete else ""
    return {
        "id": kept.id,
        "at": kept.at,
        "listener": catalogue.names(casebook, Listener)[kept.listener_id],
        "setup": None if kept.setup_id is None else catalogue.names(casebook, Setup)[kept.setup_id],
        "complete": kept.complete,
        "taken_up": kept.taken_up,
        "found": documents.plain(read(kept)) if kept.complete and not why else None,
        "doubt": why or None,
        **(more or {}),
        "sought": documents.plain(kept.sought),
        "answers": [documents.plain(one) | {"right": one.right} for one in kept.answers] if kept.complete else None,
    }
