"""`giveaways`: cues, other than the sound under test, that could give a setup away; and their repair."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Passage
from ..casebook.store import Casebook
from ..plans import next_steps, overview, plan_rows, ways_out
from ..plans.accepted_kinds import Accepting, by_itself, to_leave_out
from ..plans.next_steps import Step
from . import next_step
from .context import Context, counted, give, json_option, progress, say

if TYPE_CHECKING:
    from ..preparation.giveaway_check import Giveaway, GiveawayCheck
    from ..preparation.mends import PassageMend
    from ..preparation.selection import Selection

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
    """Look for cues that give a setup away: level, onset, clipping, noise, polarity and more.

    The exit status is 1 if any is found that no draft or plan accepts.
    """
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
        accepted = accepted_by(casebook, selection)
        still = open_of(check, accepted)
        named = tuple(word for name in setups for word in ("--setup", name))
        named += tuple(word for name in passages for word in ("--passage", name))
        first = None if real else repair_of(still, named)
        if as_json:
            taken = [
                {"kind": one.kind, "setup": one.setup, "passage": one.passage, "accepted": said}
                for one in check.findings
                if (said := accepted(one))
            ]
            give(
                document_of(check)
                | {"ok": still.ok, "accepted": taken}
                | ({"mended": [one.to_document() for one in mended]} if mending else {})
            )
        else:
            draft, plays = _draft_of(casebook, selection, still)
            coming = next_step.following(casebook, first)
            tell(check, mended, context.hint, real=real, accepted=accepted, draft=draft, plays=plays, coming=coming)
        next_step.tell(casebook, context.hint, as_json, first)
    ctx.exit(0 if still.ok else 1)


def document_of(check: GiveawayCheck) -> dict[str, Any]:
    """The check as it is printed for programs."""
    return {"ok": check.ok, "findings": documents.plain(check.findings), "notes": check.sentences}


def accepted_by(casebook: Casebook, selection: Selection) -> Callable[[Giveaway], str]:
    """In which draft or plan a giveaway on a passage is accepted, and why, in words; empty where in none."""
    accepting = overview.accepting(casebook)

    def told(found: Giveaway) -> str:
        return next((one.in_words(found.kind) for one in accepting if _takes(one, selection, found)), "")

    return told


def _takes(one: Accepting, selection: Selection, found: Giveaway) -> bool:
    passage = next(({each.id, each.name} for each in selection.passages if each.name == found.passage), {found.passage})
    return one.takes(found, passage, {setup.name: setup.id for setup in selection.setups})


def open_of(check: GiveawayCheck, accepted: Callable[[Giveaway], str]) -> GiveawayCheck:
    """The check with what nobody accepted alone."""
    return replace(check, findings=tuple(found for found in check.findings if not accepted(found)))


def _draft_of(casebook: Casebook, selection: Selection, still: GiveawayCheck) -> tuple[str, Sequence[str]]:
    """The draft in which all that is open can be accepted, and its passages; the checked ones where there is none."""
    kinds = tuple((found.kind, "") for found in still.findings)
    drafts = [replace(Accepting.of_draft(one), reasons=kinds) for one in plan_rows.every_draft(casebook)]
    fit = [one for one in drafts if all(_takes(one, selection, found) for found in still.findings)]
    if len(fit) != 1:
        return "", [one.name for one in selection.passages]
    every = catalogue.everything(casebook, Passage)
    own = fit[0].passages
    return fit[0].name, [one.name for one in every if not own or not own.isdisjoint({one.id, one.name})]


def tell(
    check: GiveawayCheck,
    mended: Sequence[PassageMend],
    hint: str,
    *,
    real: bool = False,
    accepted: Callable[[Giveaway], str] = lambda _: "",
    draft: str = "",
    plays: Sequence[str] = (),
    coming: Step | None = None,
) -> None:
    """The check, and what was mended before it, in words; `hint` is how a command names the casebook.

    Of real gear nothing is mended here: each finding says what can be done. `accepted` says of a giveaway that it is
    accepted and why, or nothing. `draft` is the one in which it can be, and `plays` are its passages; empty where there
    is none, or a choice: then what was checked. `coming` is the step that is told below, so that its command stands
    there alone.
    """
    still = open_of(check, accepted)
    for one in mended:
        say(f"mended  {one.setup} in {one.passage}: {one.done} ({one.why})")
    for found in check.findings:
        say(f"{found.kind}  {found.setup} in {found.passage}: {found.what}")
        say(f"    measured {found.measured:.4g} {found.unit}, limit {found.limit:.4g} {found.unit} ({found.source})")
        if said := accepted(found):
            say(f"    {said}")
    for note in check.sentences:
        say(f"note  {note}")
    if not real and not any(found.kind in OF_CODING for found in check.findings):
        from audio.giveaways.unjudged import LOSSY  # it loads arithmetic

        say(f"note  {LOSSY}")
    taken = len(check.findings) - len(still.findings)
    if check.ok:
        say("No giveaway found.")
    elif still.ok:
        say(f"{counted(taken, 'giveaway')}, accepted with a reason, and played all the same.")
    else:
        number = counted(len(still.findings), "giveaway") + (f", and {taken} accepted with a reason" if taken else "")
        if real:
            say(f"{number}. What helps stands with each; or {_accepting(still, draft, hint)}")
            return
        repairs = _repairs(still, hint, coming)
        rest = replace(still, findings=tuple(one for one in still.findings if not (one.mendable or _is_matched(one))))
        if not rest.findings:
            say(f"{number}. To repair {'; to repair '.join(repairs)}")
            return
        ways = f"{_without(rest, draft, plays, hint)}; or bring other recordings; or {_accepting(rest, draft, hint)}"
        if coming is not None:
            ways = ways.replace(f": {coming.command(hint)};", ", as told below;")
        none = "which cannot be repaired here" if len(rest.findings) == 1 else "none of which can be repaired here"
        if repairs:
            left = len(rest.findings)
            say(f"{number}. To repair {'; to repair '.join(repairs)}")
            say(f"The other {left if left > 1 else 'one'}, {none}: {ways}")
        else:
            say(f"{number}, {none}: {ways}")


def _repairs(still: GiveawayCheck, hint: str, coming: Step | None) -> list[str]:
    """How many of the findings can be repaired, and by which command; that of the step to come stands there."""
    mendable, matchable, turned = _repairable(still)
    ways = ((mendable, f"giveaways --mend{' --polarity' if turned else ''}"), (matchable, "match files"))
    told = "" if coming is None else f"{shlex.join(coming.words)} "
    return [
        f"{some} of them: {'as told below' if told.startswith(f'{way} ') else f'{hint} {way}'}"
        for some, way in ways
        if some
    ]


def _accepting(still: GiveawayCheck, draft: str, hint: str) -> str:
    """How all that is open is accepted: in the draft, or in a plan that will be made."""
    found = list(dict.fromkeys(one.kind for one in still.findings))
    kinds = " ".join(f"--accept {kind}=WHY" for kind in found)
    way = f"{hint} edit draft {quote(draft)} {kinds}" if draft else f"a plan, with {kinds}"
    them = "it" if len(still.findings) == 1 else "them"
    return f"accept {them} with your reason in place of WHY{by_itself(found)}: {way}"


def _without(still: GiveawayCheck, draft: str, plays: Sequence[str], hint: str) -> str:
    """How the passages in which something is open are left out: of the draft, or of a plan that will be made."""
    found = {name: [one.kind for one in still.findings if one.passage == name] for name in plays}
    if draft:
        return ways_out.without(draft, found, hint)
    poor = to_leave_out(found)
    if plays and not poor:
        return f"play other passages instead: {hint} passage add TRACK --from M:SS --to M:SS"
    play = " ".join(f"--passage {quote(name)}" for name in plays if name not in poor)
    if plays:
        return f"leave {' and '.join(poor)} out of a plan, with {play}"
    poor = tuple(dict.fromkeys(one.passage for one in still.findings))
    return f"leave {' and '.join(poor)} out of a plan, with --passage NAME for each passage that it plays"


def repair_of(check: GiveawayCheck, named: tuple[str, ...] = ()) -> Step | None:
    """What repairs what was found of recordings, first; `named` are the options that say what was checked."""
    mendable, matchable, turned = _repairable(check)
    if mendable:
        return next_steps.to_mend(named, turned=turned)
    return Step("levels are to be matched", ("match", "files", *named)) if matchable else None


def _is_matched(found: Giveaway) -> bool:
    """Whether a new match takes it away."""
    return (found.kind, found.unit) in MATCHED_ANEW


def _repairable(check: GiveawayCheck) -> tuple[int, int, bool]:
    """How many of the findings a mend repairs, how many a match, and whether polarity is among the first."""
    mendable = [found for found in check.findings if found.mendable]
    matchable = sum(_is_matched(found) and not found.mendable for found in check.findings)
    return len(mendable), matchable, any(found.kind == "polarity" for found in mendable)


COMMANDS = {"giveaways": giveaways}
