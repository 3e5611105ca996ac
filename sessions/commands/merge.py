"""`merge`: casebooks of several reviewers or sites in one, nothing lost and nothing twice."""

from __future__ import annotations

from pathlib import Path

import click

from ..errors import MergeConflict
from ..plans.plan_rows import SealedPlan
from . import second_hand_prompt
from .context import Context, counted, give, json_option, say

MOST_TOLD = 20  # claims and changed entries of one casebook that are listed


@click.command()
@click.argument("others", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="OTHER...")
@json_option
@click.pass_context
def merge(ctx: click.Context, others: tuple[Path, ...], as_json: bool) -> None:
    """Bring everything of the casebooks OTHER into this one; they themselves are only read.

    What is in both is there once, so that merging again adds only what came since. The chain of each stays whole:
    verify lays it again, and ends that were shown there are found. Where two contradict each other, or the record would
    not hold, nothing is written and the reasons are listed (exit status 1). A copy of this casebook as it was is kept
    beside it. A plan whose listeners sat at several sites is opened once all their sessions are here.

    Prepared audio is not copied: of a plan that is still to be listened to, take the folder prepared along.
    """
    from ..export import merge_all

    context: Context = ctx.obj

    def ask(sealed: SealedPlan) -> str | None:
        return second_hand_prompt.ask(sealed, as_json)

    with context.open() as casebook:
        try:
            done = merge_all.merge_all(casebook, others, ask)
        except MergeConflict as conflict:
            if as_json:
                give(
                    {
                        "merged": [],
                        "conflicts": list(conflict.found),
                        "in": conflict.folder,
                        "number": conflict.number,
                        "ways": list(conflict.ways),
                    }
                )
            say(f"Nothing was merged. {conflict.folder}:", as_json)
            for said in conflict.found:
                say(f"  {said}", as_json)
            if conflict.number > len(conflict.found):
                say(f"  and {conflict.number - len(conflict.found)} more", as_json)
            for way in conflict.ways:
                say(way, as_json)
            ctx.exit(1)
    if as_json:
        give(
            {
                "merged": [
                    {
                        "casebook": one.casebook,
                        "from": one.folder,
                        "rows": one.rows,
                        "entries": one.entries,
                        "told": list(one.told),
                        "renamed": [{"table": part, "there": there, "here": here} for part, there, here in one.renamed],
                    }
                    for one in done.merged
                ],
                "secrets": list(done.secrets),
                "opened": list(done.opened),
                "waiting": list(done.waiting),
                "copy": str(done.copy) if done.copy else None,
                "rows": done.checked.rows,
                "end": done.checked.end,
                "ok": done.checked.ok,
            }
        )
    for one in done.merged:
        brought = f"{counted(one.rows, 'row')} and {counted(one.entries, 'entry').replace('entrys', 'entries')}"
        say(
            f"{one.folder}: {brought} brought in" if one.anything else f"{one.folder}: all of it is here already",
            as_json,
        )
        for what in one.told[:MOST_TOLD]:
            say(f"  {what}", as_json)
        if len(one.told) > MOST_TOLD:
            say(f"  and {len(one.told) - MOST_TOLD} more", as_json)
        for part, there, here in one.renamed:
            say(f"  {part}: its {there!r} is called {here!r} here, where that name was taken", as_json)
    for name in done.secrets:
        say(f"The secret of {name} was fetched; it gives its seal", as_json)
    for name in done.opened:
        say(f"All sessions of plan {name!r} are here: it is opened. {context.hint} verdict", as_json)
    for name in done.waiting:
        say(f"All sessions of plan {name!r} are here; it is opened once its secrets are (merge again)", as_json)
    for fault in (*done.checked.broken, *done.checked.without_secret):
        say(fault, as_json)
    before = f"; as it was before: {done.copy}" if done.copy else ""
    say(f"{counted(done.checked.rows, 'row')} in the chain. Its end: {done.checked.end}{before}", as_json)
    ctx.exit(0 if not done.checked.broken else 1)


COMMANDS = {"merge": merge}
