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
@click.option("--proof", is_flag=True, help="Instead, a zip OUT with which anybody checks plans, keys and p-values.")
@json_option
@click.pass_obj
def export(context: Context, out: Path, form: str, proof: bool, as_json: bool) -> None:
    """Write every table into the new folder OUT, with the meaning and unit of each column (dictionary.csv).

    judged_trials holds each answer of the plans that are over with its key and score; figure_numbers the numbers of
    every figure of measured data that the report and stills draw, a row each, and figures/ those of all, a file each.
    Of a plan that is not over no key, no score and no secret is told. Listeners' names stand in it: ask them before you
    hand it on.

    With --proof OUT is one zip: sealed plans, the keys of those that are over, the chain, match sheets, and a program
    that recomputes order, scores and p-values with Python's standard library alone (python3 -I checker.py).
    """
    if proof:
        _bundle(context, out, as_json)
        return
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
    if made.pairs_left_out:
        say(
            f"  figures of two setups: of those that a plan compares; {counted(made.pairs_left_out, 'other pair')} "
            "left out (curve show A --against B --json gives one)",
            as_json,
        )


def _bundle(context: Context, out: Path, as_json: bool) -> None:
    from ..export import proof

    with context.open() as casebook:
        plans, digest = proof.write(casebook, out)
    if as_json:
        give({"export": str(out), "form": "proof", "plans": plans, "sha256": digest})
    say(
        f"The proof bundle: {out}, {counted(plans, 'sealed plan')}, SHA-256 {digest}\n"
        "Whoever unpacks it checks it with: python3 -I checker.py",
        as_json,
    )


COMMANDS = {"export": export}
