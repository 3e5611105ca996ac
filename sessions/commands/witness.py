"""`witness`: note that an end of the record, or a plan's seal, was published or given to somebody."""

from __future__ import annotations

from dataclasses import asdict

import click

from .context import Context, give, json_option, say


@click.command()
@click.argument("code")
@click.option("--by", required=True, metavar="WHO OR WHERE", help="Who has it now, or where it was published.")
@json_option
@click.pass_obj
def witness(context: Context, code: str, by: str, as_json: bool) -> None:
    """Note that CODE (an end that a session showed, or a plan's seal or name) was published or given to somebody."""
    from ..results import publishing

    with context.open() as casebook:
        kept = publishing.note(casebook, code, by)
    if as_json:
        give(asdict(kept))
    stands = f"the {kept.what} {kept.code} is with {kept.by}"
    say(f"Noted {kept.at}: {stands}. It proves something only as long as they keep it.", as_json)


COMMANDS = {"witness": witness}
