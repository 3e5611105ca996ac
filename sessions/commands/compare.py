"""`compare`: the first evening in one command, from two folders of recordings into the first blind trial."""

from __future__ import annotations

import getpass
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from ..casebook import catalogue
from ..casebook.store import FILE_NAME, create, open_casebook
from ..errors import PlanError
from ..plans import plan_rows, seals, two_folders
from ..plans.plan import check_numbers, void_reasons
from ..preparation.passage_proposals import ProposedPassage
from . import giveaways, plan
from .context import NOT_PRIVATE, Context, give, json_option, progress, say
from .lags import answer, described, document_of, lag_of
from .match_summary import tell_sheet
from .moments import moments_of


@click.command()
@click.argument("dir_a", type=click.Path(path_type=Path))
@click.argument("dir_b", type=click.Path(path_type=Path))
@click.option("--trials", type=int, default=16, show_default=True, help="How many trials.")
@click.option("--preference", is_flag=True, help="Ask which is preferred, instead of ABX.")
@click.option("--listener", default="", help="Who listens; otherwise your user name.")
@click.option("--device", help="The playback device, by name.")
@click.option(
    "--lag", "lags", multiple=True, metavar="TRACK=S", help="Where a loop fits twice: how late DIR_B's recording is."
)
@click.option("--around", "moments", multiple=True, metavar="TRACK=M:SS", help="Also play around a moment of yours.")
@click.option("--yes", is_flag=True, help="Seal without asking.")
@click.option("--no-listen", is_flag=True, help="Stop after sealing; listen later.")
@json_option
@click.pass_obj
def compare(
    context: Context,
    dir_a: Path,
    dir_b: Path,
    trials: int,
    preference: bool,
    listener: str,
    device: str | None,
    lags: tuple[str, ...],
    moments: tuple[str, ...],
    yes: bool,
    no_listen: bool,
    as_json: bool,
) -> None:
    """Pair the recordings of DIR_A and DIR_B, match, mend, check and plan them, seal, and listen."""
    from ..listening import players
    from ..listening.session import begin
    from .listen import check_terminal, run_session

    check_numbers(trials, "0.05")
    around_s = moments_of(moments)
    who = listener or getpass.getuser()
    if not no_listen:
        check_terminal()
    elif not (yes or sys.stdin.isatty()):
        raise PlanError("sealing asks for a confirmation; add --yes where nobody can be asked")
    progress("pairing the recordings …")
    paired = two_folders.pair_folders(dir_a, dir_b)  # refuse before anything is made
    chosen = dict(lag_of(text) for text in lags)
    two_folders.check_tracks(paired, chosen)
    folder = context.given or Path("-vs-".join(two_folders.setup_names(dir_a, dir_b)).replace(" ", "-"))
    there = (folder / FILE_NAME).is_file()
    hint = f"earwitness --casebook {folder}"
    wish = plan_rows.Wish(method="preference" if preference else "abx", listeners=(who,), trials=trials)
    with open_casebook(folder) if there else create(folder) as casebook:
        made = two_folders.prepare(
            casebook,
            dir_a,
            dir_b,
            wish,
            paired=paired,
            around_s=around_s,
            lags_s=chosen,
            choose=lambda asked: answer(asked, as_json),
            progress=progress,
        )
        if not as_json:
            tell(made)
        if void_reasons(made.plan):
            raise PlanError(
                f"not sealed, since the verdict would be void: {'; '.join(void_reasons(made.plan))}. What was made so "
                f"far is in {folder}; mend it there, or accept a giveaway in a new plan ({hint} plan --help)"
            )
        if not (yes or click.confirm("Seal this plan?", default=True, err=as_json)):
            say(f"Not sealed. The draft is kept: {hint} plan show {made.plan.name}", as_json)
            return
        sealed = seals.seal(casebook, made.plan.name)
        if as_json:
            give(_document(made, sealed.seal, folder))
        if not context.is_private(folder / FILE_NAME):
            say(NOT_PRIVATE, as_json)
        plan.tell_seal(sealed, hint, as_json)
        if no_listen:
            plan.tell_listen(sealed.plan, hint, as_json)
            return
        players.check_devices(sealed.plan, device)
        catalogue.listener_named(casebook, who)
        with begin(casebook, made.plan.name, who, device or "the system's default") as session:
            run_session(session, device, hint)


def tell(made: two_folders.Comparison) -> None:
    """What was made of the two folders, in words."""
    for pair in made.pairs:
        note = "" if pair.by == "name" else f"  (paired by content with {pair.b.name})"
        say(f"track {pair.name}{note}")
    for name, laid in made.laid.items():
        say(f"{name}: {described(laid, made.setups[1])}")
    for path in made.left_over:
        say(f"left over, without a partner: {path}")
    for out in made.left_out:
        say(f"left out: {out.track}: {out.why}")
    tell_passages(made.passages)
    tell_sheet(made.sheet)
    giveaways.tell(made.check, made.mended)
    plan.show_plan(made.plan)


def tell_passages(found: Sequence[ProposedPassage]) -> None:
    """The passages and what each was chosen by; how to have others, where nobody marked a moment."""
    for part in found:
        say(f"passage of {part.track.name}: {part.start_s:.1f} to {part.end_s:.1f} s, {part.what}")
    if not any(part.marks_s for part in found):
        say("To hear moments of your own as well, add for each: --around TRACK=M:SS")


def _document(made: two_folders.Comparison, seal: str, folder: Path) -> dict[str, Any]:
    return {
        "casebook": str(folder),
        "setups": list(made.setups),
        "pairs": [{"track": pair.name, "a": str(pair.a), "b": str(pair.b), "by": pair.by} for pair in made.pairs],
        "left_over": [str(path) for path in made.left_over],
        "left_out": [{"track": out.track, "why": out.why} for out in made.left_out],
        "laid": {name: document_of(laid) for name, laid in made.laid.items()},
        "passages": [part.to_document() for part in made.passages],
        "match": made.sheet.to_document(),
        "giveaways": giveaways.document_of(made.check) | {"mended": [one.to_document() for one in made.mended]},
        "plan": made.plan.name,
        "seal": seal,
    }


COMMANDS = {"compare": compare}
