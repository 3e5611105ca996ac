"""`giveaways`: cues, other than the sound under test, that could give a setup away; and their repair."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from ..casebook import documents
from ..plans import next_steps
from ..plans.next_steps import Step
from . import next_step
from .context import Context, counted, give, json_option, progress, say

if TYPE_CHECKING:
    from ..preparation.giveaway_check import GiveawayCheck
    from ..preparation.mends import PassageMend

MATCHED_ANEW = (
    ("level", "LU"),
    ("performance", "ms"),
)  # what is gone once the files are prepared anew: kinds and units

OF_CODING = "coding", "format"  # kinds that tell a lossy file


@click.command()
@click.option("--setup", "setups", multiple=True, help="A setup to check (repeat); all of them if none is named.")
@click.option("--passage", "passages", multiple=True, help="A passage to check (repeat); all of them if none is named.")
@click.option(
    "--mend", "mending", is_flag=True, help="Repair offset, drift, length, rate and DC, match and check again."
)
@click.option("--polarity", is_flag=True, help="With --mend: also turn inverted polarity round.")
@json_option
@click.pass_context
def giveaways(
    ctx: click.Context,
    setups: tuple[str, ...],
    passages: tuple[str, ...],
    mending: bool,
    polarity: bool,
    as_json: bool,
) -> None:
    """Look for cues that give a setup away: level, onset, clipping, noise, polarity and more; exit status 1 if any."""
    from ..preparation import giveaway_check, match_files, mends
    from ..preparation.selection import select

    context: Context = ctx.obj
    with context.open() as casebook:
        selection = select(casebook, setups, passages)
        on = counted(len(selection.passages), "passage")
        progress(f"checking {counted(len(selection.setups), 'setup')} on {on} …")
        real, mended = any(setup.is_real for setup in selection.setups), []
        if mending:
            mended = mends.mend(casebook, selection, polarity=polarity)
            progress("matching what was mended, and checking it again …")
            now = {(one.setup_id, one.passage_id) for one in mended}
            sheets = match_files.match_mended(casebook, selection, now, partial(say, as_json=as_json))
            check = giveaway_check.check_mended(casebook, selection, sheets, polarity, progress)
        else:
            check = giveaway_check.check(casebook, selection, progress=progress)
        if as_json:
            give(document_of(check) | ({"mended": [one.to_document() for one in mended]} if mending else {}))
        else:
            tell(check, mended, context.hint, real=real)
        named = tuple(word for name in setups for word in ("--setup", name))
        named += tuple(word for name in passages for word in ("--passage", name))
        next_step.tell(casebook, context.hint, as_json, None if real else repair_of(check, named))
    ctx.exit(0 if check.ok else 1)


def document_of(check: GiveawayCheck) -> dict[str, Any]:
    """The check as it is printed for programs."""
    return {"ok": check.ok, "findings": documents.plain(check.findings), "notes": check.sentences}


def tell(
    check: GiveawayCheck,
    mended: Sequence[PassageMend],
    hint: str,
    *,
    real: bool = False,
    accepted: Mapping[str, str] | None = None,
) -> None:
    """The check, and what was mended before it, in words; `hint` is how a command names the casebook.

    Of real gear nothing is mended here: each finding says what can be done. `accepted` are the reasons for which kinds
    of giveaways are played all the same.
    """
    why = accepted or {}
    still = replace(check, findings=tuple(found for found in check.findings if found.kind not in why))
    for one in mended:
        say(f"mended  {one.setup} in {one.passage}: {one.done} ({one.why})")
    for found in check.findings:
        say(f"{found.kind}  {found.setup} in {found.passage}: {found.what}")
        say(f"    measured {found.measured:.4g} {found.unit}, limit {found.limit:.4g} {found.unit} ({found.source})")
        if found.kind in why:
            say(f"    accepted, because: {why[found.kind]}")
    for note in check.sentences:
        say(f"note  {note}")
    if not real and not any(found.kind in OF_CODING for found in check.findings):
        from audio.giveaways.unjudged import LOSSY  # it loads arithmetic

        say(f"note  {LOSSY}")
    taken = len(check.findings) - len(still.findings)
    if check.ok:
        say("No giveaway found.")
    elif still.ok:
        say(f"{counted(taken, 'giveaway')}, accepted with a reason: it is played all the same.")
    else:
        number = counted(len(still.findings), "giveaway") + (f", and {taken} accepted with a reason" if taken else "")
        mendable, matchable, turned = _repairable(still)
        ways = ((mendable, f"giveaways --mend{' --polarity' if turned else ''}"), (matchable, "match files"))
        repairs = [f"{some} of them: {hint} {way}" for some, way in ways if some]
        if real:
            say(f"{number}. What helps stands with each; or accept it in a plan with its reason: --accept KIND=WHY.")
        elif repairs:
            say(f"{number}. To repair {'; to repair '.join(repairs)}")
        else:
            say(
                f"{number}, none of which can be repaired here: leave those passages out, or bring other recordings; "
                "or accept them in a plan, each with its reason: --accept KIND=WHY."
            )


def repair_of(check: GiveawayCheck, named: tuple[str, ...] = ()) -> Step | None:
    """What repairs what was found of recordings, first; `named` are the options that say what was checked."""
    mendable, matchable, turned = _repairable(check)
    if mendable:
        return next_steps.to_mend(named, turned=turned)
    return Step("levels are to be matched", ("match", "files", *named)) if matchable else None


def _repairable(check: GiveawayCheck) -> tuple[int, int, bool]:
    """How many of the findings a mend repairs, how many a match, and whether polarity is among the first."""
    mendable = [found for found in check.findings if found.mendable]
    matchable = sum((found.kind, found.unit) in MATCHED_ANEW and not found.mendable for found in check.findings)
    return len(mendable), matchable, any(found.kind == "polarity" for found in mendable)


COMMANDS = {"giveaways": giveaways}
