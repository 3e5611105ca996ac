"""`verdict`: the result of a plan, in numbers and in plain sentences."""

from __future__ import annotations

import click

from ..trials import judging, saying
from .context import Context, give, json_option, say


@click.command()
@click.argument("plan", required=False)
@click.option("--rehearsals", is_flag=True, help="The newest rehearsal of each plan instead; it never counts.")
@json_option
@click.pass_obj
def verdict(context: Context, plan: str | None, rehearsals: bool, as_json: bool) -> None:
    """What PLAN (or every sealed plan) came to: heard, not shown or void, with its numbers."""
    with context.open() as casebook:
        found = judging.verdicts(casebook, plan, rehearsals=rehearsals)
    if as_json:
        give({"plans": [one.to_document() for one in found]})
        return
    if not found:
        say("No rehearsal yet." if rehearsals else "No sealed plan yet.")
    for one in found:
        for place, sentence in enumerate(saying.sentences(one)):
            say(sentence if place == 0 else f"  {sentence}")


COMMANDS = {"verdict": verdict}
