"""`verify`: does the record hold? And the record of a plan, for anyone to check without this program."""

from __future__ import annotations

from dataclasses import asdict
from importlib.resources import files as package_files
from pathlib import Path

import click

from ..errors import CasebookError
from .context import Context, counted, give, json_option, say

NOT_SEEN = (
    "Whether it was written anew as a whole, or put back from an older copy, cannot be seen from the file alone: give "
    "an end that somebody kept from after the session (--saw CODE)."
)


@click.command()
@click.option("--head", help="A chain hash published earlier; the record must still contain it.")
@click.option("--saw", "codes", multiple=True, metavar="CODE", help="An end that a session showed (repeat).")
@click.option(
    "--saw-file",
    type=click.Path(path_type=Path),
    help="Such ends in a file: one a line, then free text such as a date; # begins a remark.",
)
@click.option("--record", "plan", help="Print the record of a plan that is over, with its chain, to check alone.")
@click.option("--rule", is_flag=True, help="Print the sealing rule, with the stand-alone check.")
@json_option
@click.pass_context
def verify(
    ctx: click.Context,
    head: str | None,
    codes: tuple[str, ...],
    saw_file: Path | None,
    plan: str | None,
    rule: bool,
    as_json: bool,
) -> None:
    """Recompute chain, seals and keys, compare tables and catalogue; exit status 1 if anything does not hold."""
    from ..results import end_sentences, seen_ends, verification

    context: Context = ctx.obj
    if rule:
        say((package_files("sessions.plans") / "sealing.md").read_text(encoding="utf-8"))
        return
    kept = seen_ends.read(codes, *((_text(saw_file), str(saw_file)) if saw_file else ()))
    with context.open() as casebook:
        if plan is not None:
            from ..plans import seals
            from ..results import exported_record

            give(exported_record.exported(casebook, seals.sealed_plan(casebook, plan)))
            return
        found = verification.verify(casebook, head, kept=kept, audio=True)
    if as_json:
        give(asdict(found) | {"ok": found.ok})
    else:
        for fault in (*found.broken, *found.without_secret):
            say(fault)
        for fault in found.without_audio:
            say(f"{fault}; rebuild it by the settings of its match sheet (match files), or it cannot be listened to")
        for fault in found.audio_gone:
            say(f"{fault}; the plan is over, and its verdict does not need it")
        for one in found.seen:
            say(end_sentences.found(one))
        if found.older_entries:
            say(
                f"{found.older_entries} entries of the catalogue were there before the chain held them; they were "
                "compared with the sealed plans and match sheets, as far as those name them."
            )
        if found.brought_in:
            say(
                f"The chains of {counted(found.brought_in, 'casebook')} that were brought in were laid again from the "
                "rows here; ends that were shown there are found too."
            )
        state = "The record holds" if found.ok else "THE RECORD DOES NOT HOLD"
        if found.without_secret and not found.broken and all(one.there for one in found.seen):
            state = "The record holds as far as it can be checked here"
        say(
            f"{state}: {counted(found.rows, 'row')} in the chain, {counted(found.plans, 'sealed plan')}. "
            f"{end_sentences.age(found.age)}. Its end: {found.end} ({found.head})"
        )
        if not found.seen:
            say(NOT_SEEN)
        elif found.uncovered_answers:
            say(
                f"No end that was given covers the {counted(found.uncovered_answers, 'answer')} after the last of "
                "them: whether they were written anew, or given again on an older copy, cannot be seen "
                "(give a later end)."
            )
    ctx.exit(0 if found.ok else 1)


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise CasebookError(f"cannot read {file} ({error}); give a text file with one code a line") from error


COMMANDS = {"verify": verify}
