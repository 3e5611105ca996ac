"""`backup`: a copy of the whole casebook, consistent while a session runs, and checked."""

from __future__ import annotations

from pathlib import Path

import click

from ..errors import CasebookError
from .context import Context, counted, give, json_option, say


@click.command()
@click.argument("out", type=click.Path(path_type=Path))
@click.option("--with-audio", is_flag=True, help="Copy prepared audio too; match files would make it again.")
@json_option
@click.pass_context
def backup(ctx: click.Context, out: Path, with_audio: bool, as_json: bool) -> None:
    """Copy the casebook into the new folder OUT: its tables as they stand now, and its plans' secrets.

    A session may be running meanwhile. The copy is checked as verify does, and stands there only if it was written
    whole. It holds the secrets of plans under way: keep it as private as the casebook. Exit status 1 if the record in
    it does not hold, which it did not before either.
    """
    from ..casebook import backup_copy
    from ..casebook.store import open_casebook
    from ..results import verification

    context: Context = ctx.obj
    with (
        backup_copy.patiently(context.open) as casebook,
        backup_copy.copied(casebook, out, with_audio=with_audio) as made,
    ):
        with open_casebook(made.part) as copy:
            found = verification.verify(copy)
        if found.rows != made.rows and found.ok:
            raise CasebookError(f"the copy {out} holds {found.rows} of {made.rows} rows; nothing was kept: try again")
    if as_json:
        give(
            {
                "backup": str(out),
                "rows": found.rows,
                "plans": found.plans,
                "secrets": made.secrets,
                "audio_files": made.audio_files,
                "size_bytes": made.size_bytes,
                "end": found.end,
                "ok": found.ok,
            }
        )
    state = "its record holds" if found.ok else "ITS RECORD DOES NOT HOLD (see earwitness verify)"
    audio = f", {counted(made.audio_files, 'audio file')}" if with_audio else ""
    say(
        f"Copied to {out}: {counted(found.rows, 'row')}, {counted(made.secrets, 'secret')}{audio}, "
        f"{made.size_bytes / 1e6:.1f} MB; {state}. Its end: {found.end}",
        as_json,
    )
    ctx.exit(0 if found.ok else 1)


COMMANDS = {"backup": backup}
