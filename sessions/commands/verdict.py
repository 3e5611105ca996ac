"""`verdict`: the result of a plan, in numbers and in plain sentences."""

from __future__ import annotations

import click

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..measured import curve_sentences
from ..results import review, sentences
from .context import Context, give, json_option, say


@click.command()
@click.argument("plan", required=False)
@click.option("--rehearsals", is_flag=True, help="The newest rehearsal of each plan instead; it never counts.")
@json_option
@click.pass_obj
def verdict(context: Context, plan: str | None, rehearsals: bool, as_json: bool) -> None:
    """What PLAN (or every sealed plan) came to: heard, not shown or void, with its numbers."""
    with context.open() as casebook:
        found = review.verdicts(casebook, plan, rehearsals=rehearsals)
        measured = [
            curve_sentences.beside(casebook, [catalogue.find(casebook, Setup, setup.id) for setup in one.plan.setups])
            for one in found
        ]
    if as_json:
        told = zip(found, measured, strict=True)
        give({"plans": [one.to_document() | {"measured": beside.to_document()} for one, beside in told]})
        return
    if not found:
        say("No rehearsal yet." if rehearsals else "No sealed plan yet.")
    for one, beside in zip(found, measured, strict=True):
        for place, sentence in enumerate(sentences.sentences(one)):
            say(sentence if place == 0 else f"  {sentence}")
        for sentence in beside.sentences if one.verdict is not None else []:
            say(f"  {sentence}")


COMMANDS = {"verdict": verdict}
