"""`export`: tables with their dictionary and figures' numbers, or the proof bundle."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from .context import Context, counted, give, json_option, say


@click.command()
@click.argument("out", type=click.Path(path_type=Path))
@click.option(
    "--as",
    "form",
    type=click.Choice(["csv", "json", "parquet"]),
    default="csv",
    show_default=True,
    help="Parquet needs the extra `pool`.",
)
@json_option
@click.pass_obj
def export(context: Context, out: Path, form: str, as_json: bool) -> None:
    """Write every table into the new folder OUT, with the meaning and unit of each column (dictionary.csv).

    judged_trials holds each answer of the plans that are over with its key and score; figures/ the numbers of every
    figure of measured data. Of a plan that is not over no key, no score and no secret is told. Listeners' names stand
    in it: ask them before you hand it on.
    """
    from ..export import folder

    with context.open() as casebook:
        made = folder.write(casebook, out, form)
    if as_json:
        give({"export": str(out), "form": form, **asdict(made)})
    say(
        f"Exported to {out}: {counted(made.tables, 'table')} as {form} with {counted(made.rows, 'row')}, "
        f"{counted(made.figures, 'figure')} in numbers; dictionary.csv says what each column means",
        as_json,
    )


COMMANDS = {"export": export}
