"""A comparison of two folders in words, and as one document, as `compare` prints it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from shlex import quote
from typing import Any

from audio import track_time

from ..casebook.left_out import LeftOut
from ..plans import two_folders
from ..plans.next_steps import Step
from ..preparation import meanings
from ..preparation.proposed_passage import ProposedPassage
from . import giveaways, plan
from .context import counted, say, table
from .lags import COHERENCE, described, document_of, in_place


def tell(made: two_folders.Comparison, hint: str, coming: Step | None = None) -> None:
    """What was made of the two folders, in words: as much as has room on one screen, and what tells more.

    `coming` is the step that is told below where this cannot be sealed.
    """
    names = [pair.name for pair in made.pairs]
    say(f"{counted(len(names), 'track')} paired: {', '.join(names)}")
    for pair in made.pairs:
        if pair.by != "name" and pair.a.stem != pair.b.stem:
            say(f"track {pair.name} is paired by content with {pair.b.name}")
    _tell_places(made, hint)
    tell_left_out(made.left_out)
    tell_passages(made.passages)
    if made.not_played:
        enough = f"{counted(len(made.passages), 'passage')} of other tracks, enough for an evening"
        say(f"Not played: {', '.join(made.not_played)}; what is played is {enough}.")
        suggest = f"{hint} passage suggest {' '.join(map(quote, made.not_played))} --add"
        whom = "it" if len(made.not_played) == 1 else "one of them"
        say(f"To hear {whom}: --around TRACK=M:SS; or for another plan: {suggest}")
    say(f"By how much each was turned, and would be if equally loud meant something else: {hint} match show")
    why = {one.kind: f"accepted, because: {one.why}" for one in made.plan.accepted_giveaways}
    giveaways.tell(
        made.check,
        made.mended,
        hint,
        accepted=lambda found: why.get(found.kind, ""),
        draft=made.plan.name,
        plays=[passage.name for passage in made.plan.passages],
        coming=coming,
    )
    plan.show_plan(made.plan, told=True)


def _tell_places(made: two_folders.Comparison, hint: str) -> None:
    """Where the second folder's recordings lie: each that does not simply lie where the first folder's does."""
    elsewhere = [(name, laid) for name, laid in made.laid.items() if not in_place(laid)]
    same = len(made.laid) - len(elsewhere)
    if same:
        which = "Each recording" if not elsewhere else "Each other recording" if same > 1 else "The other recording"
        one, other = made.setups
        compared = " that is compared" if made.left_out else ""
        say(f"{which} of {other}{compared} lies at the same place as that of {one}.")
    for name, laid in elsewhere:
        say(f"{name}: {described(laid, name, made.setups[1], hint)}")
    if elsewhere:
        say(COHERENCE)


def tell_left_out(left_out: Sequence[LeftOut]) -> None:
    """The tracks that are not in the comparison, and why."""
    for out in left_out:
        say(f"left out: {out.track}: {out.why}")


def tell_passages(found: Sequence[ProposedPassage]) -> None:
    """The passages and what each was chosen by; how to have others, where nobody marked a moment."""
    marked = any(part.marks_s for part in found)
    rows = [
        [
            part.track.name,
            track_time.told(part.start_s, 1),
            track_time.told(part.end_s, 1),
            f"{part.differ_percent:.0f} %",
            *([part.marked or "-"] if marked else []),
        ]
        for part in sorted(found, key=lambda one: -one.differ_percent)
    ]
    say(table(["passage of", "from", "to", "differs", *(["mark"] if marked else [])], rows))
    first = "; the greatest first" if len(found) > 1 else ""
    say(f"Differs: by how much to the ear, on average, once both are equally loud{first}.")
    if not marked:
        say("To hear moments of your own as well, add for each: --around TRACK=M:SS")


def document(made: two_folders.Comparison, seal: str, folder: Path) -> dict[str, Any]:
    """A comparison that was just made, for programs."""
    return {
        "casebook": str(folder),
        "setups": list(made.setups),
        "pairs": [{"track": pair.name, "a": str(pair.a), "b": str(pair.b), "by": pair.by} for pair in made.pairs],
        "left_over": [str(path) for path in made.left_over],
        "left_out": [{"track": out.track, "why": out.why} for out in made.left_out],
        "laid": {name: document_of(laid) for name, laid in made.laid.items()},
        "passages": [part.to_document() for part in made.passages],
        "not_played": made.not_played,
        "match": meanings.document_of(made.sheet),
        "giveaways": giveaways.document_of(made.check) | {"mended": [one.to_document() for one in made.mended]},
        "plan": made.plan.name,
        "seal": seal,
    }
