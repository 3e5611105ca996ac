"""A comparison of two folders in words, and as one document, as `compare` prints it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ..casebook.left_out import LeftOut
from ..plans import two_folders
from ..preparation import meanings
from ..preparation.proposed_passage import ProposedPassage
from . import giveaways, plan
from .context import counted, say
from .lags import COHERENCE, described, document_of
from .match_summary import tell_sheet


def tell(made: two_folders.Comparison, hint: str) -> None:
    """What was made of the two folders, in words."""
    for pair in made.pairs:
        note = "" if pair.by == "name" or pair.a.stem == pair.b.stem else f"  (paired by content with {pair.b.name})"
        say(f"track {pair.name}{note}")
    for name, laid in made.laid.items():
        say(f"{name}: {described(laid, name, made.setups[1], hint)}")
    say(COHERENCE)
    tell_left_out(made.left_out)
    tell_passages(made.passages)
    if made.not_played:
        enough = f"{counted(len(made.passages), 'passage')} of other tracks, enough for an evening"
        say(f"Not played: {', '.join(made.not_played)}; what is played is {enough}.")
        say("To hear one of them: --around TRACK=M:SS, or later: earwitness passage suggest TRACK --add")
    tell_sheet(made.sheet)
    giveaways.tell(made.check, made.mended, hint)
    plan.show_plan(made.plan)


def tell_left_out(left_out: Sequence[LeftOut]) -> None:
    """The tracks that are not in the comparison, and why."""
    for out in left_out:
        say(f"left out: {out.track}: {out.why}")


def tell_passages(found: Sequence[ProposedPassage]) -> None:
    """The passages and what each was chosen by; how to have others, where nobody marked a moment."""
    for part in found:
        say(f"passage of {part.track.name}: {part.start_s:.1f} to {part.end_s:.1f} s, {part.what}")
    if not any(part.marks_s for part in found):
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
