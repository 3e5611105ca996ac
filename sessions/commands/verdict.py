"""`verdict`: the result of a plan, in numbers and in plain sentences."""

from __future__ import annotations

import click

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..measured import curve_sentences
from ..plans import seals
from ..results import review, sentences
from ..results.verdict import Verdict
from .context import Context, give, json_option, say


@click.command()
@click.argument("plan", required=False)
@click.option("--rehearsals", is_flag=True, help="The newest rehearsal of each plan instead; it never counts.")
@json_option
@click.pass_obj
def verdict(context: Context, plan: str | None, rehearsals: bool, as_json: bool) -> None:
    """What PLAN (or every sealed plan) came to: heard, not shown or void, with its numbers."""
    with context.open() as casebook:
        found = _verdicts(casebook, plan, rehearsals=rehearsals)
        measured = [
            curve_sentences.measurements_of(
                casebook, [catalogue.find(casebook, Setup, setup.id) for setup in one.plan.setups]
            )
            for one in found
        ]
    if as_json:
        each = zip(found, measured, strict=True)
        give({"plans": [one.to_document() | {"measured": beside.to_document()} for one, beside in each]})
        return
    if not found:
        say("No rehearsal yet." if rehearsals else "No sealed plan yet.")
    for one, beside in zip(found, measured, strict=True):
        for place, sentence in enumerate(sentences.sentences(one)):
            say(sentence if place == 0 else f"  {sentence}")
        for sentence in beside.sentences if one.verdict is not None else []:
            say(f"  {sentence}")


def _verdicts(casebook: Casebook, name: str | None, *, rehearsals: bool) -> list[Verdict]:
    """The verdicts asked for; all of them are judged, since some things only all plans can say."""
    wanted = None if name is None else seals.sealed_plan(casebook, name).plan.id
    reviewed = review.review(casebook, rehearsals=rehearsals).plans
    own = [one for one in reviewed if wanted in (None, one.sealed.plan.id)]
    if rehearsals:
        return [one.rehearsal for one in own if one.rehearsal is not None]
    return [one.verdict for one in own]


COMMANDS = {"verdict": verdict}
