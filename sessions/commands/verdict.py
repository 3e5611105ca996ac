"""`verdict`: the result of a plan, in numbers and in plain sentences."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import click

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..measured import curve_sentences
from ..measured.curve_sentences import MeasurementSentences
from ..plans import check_notes, seals
from ..results import chosen_lags, heard_freely, review, sentences
from ..results.verdict import CANNOT_BE_JUDGED, Verdict, unjudged
from .context import Context, give, json_option, say


@dataclass(frozen=True)
class Shown:
    """A verdict as it is shown: for programs, for people, and whether it could be judged at all."""

    document: dict[str, Any]
    lines: list[str]
    judged: bool


@click.command()
@click.argument("plan", required=False)
@click.option("--rehearsals", is_flag=True, help="The newest rehearsal of each plan instead; it never counts.")
@json_option
@click.pass_context
def verdict(ctx: click.Context, plan: str | None, rehearsals: bool, as_json: bool) -> None:
    """What PLAN (or every sealed plan) came to: heard, not shown, undecided or void, with its numbers."""
    context: Context = ctx.obj
    with context.open() as casebook:
        found = [_shown(casebook, one) for one in _verdicts(casebook, plan, rehearsals=rehearsals)]
    if as_json:
        give({"plans": [one.document for one in found]})
    elif not found:
        say("No rehearsal yet." if rehearsals else "No sealed plan yet.")
    else:
        for one in found:
            for place, sentence in enumerate(one.lines):
                say(sentence if place == 0 else f"  {sentence}")
    ctx.exit(0 if plan is None or all(one.judged for one in found) else 1)


def _shown(casebook: Casebook, one: Verdict) -> Shown:
    """A verdict put into words, with what was measured beside it; each by itself."""
    measured = review.by_itself(
        lambda: _measured(casebook, one),
        lambda reason: MeasurementSentences([f"Measured: cannot be shown: {reason.rstrip('.')}."], []),
    )
    drawn = "" if one.rehearsal else review.by_itself(lambda: seals.how_drawn(casebook, one.plan), lambda _: "")
    lags = review.by_itself(lambda: chosen_lags.sentences(casebook, one.plan), lambda _: list[str]())
    notes = review.by_itself(lambda: check_notes.of_plan(casebook, one.plan), lambda _: list[str]())
    freely = review.by_itself(lambda: heard_freely.sentences(casebook, one.plan), lambda _: list[str]())
    said = partial(_in_words, measured=measured, drawn=drawn, lags=lags, notes=notes, freely=freely)
    return review.by_itself(lambda: said(one), lambda reason: said(unjudged(one.plan, reason)))


def _measured(casebook: Casebook, one: Verdict) -> MeasurementSentences:
    setups = [catalogue.find(casebook, Setup, setup.id) for setup in one.plan.setups]
    return curve_sentences.measurements_of(casebook, setups)


def _in_words(
    one: Verdict, measured: MeasurementSentences, drawn: str, lags: list[str], notes: list[str], freely: list[str]
) -> Shown:
    beside = measured.sentences if one.verdict is not None else []
    return Shown(
        one.to_document()
        | {"measured": measured.to_document(), "key_drawn": drawn}
        | ({"chosen_lags": lags} if lags else {})
        | ({"check_notes": notes} if notes else {})
        | ({"heard_freely": freely} if freely else {}),
        [*sentences.sentences(one), *check_notes.in_words(notes), *freely, *lags, *beside, *([drawn] if drawn else [])],
        one.state != CANNOT_BE_JUDGED,
    )


def _verdicts(casebook: Casebook, name: str | None, *, rehearsals: bool) -> list[Verdict]:
    """The verdicts asked for; all of them are judged, since some things only all plans can say."""
    wanted = None if name is None else seals.sealed_plan(casebook, name).plan.id
    reviewed = review.review(casebook, rehearsals=rehearsals).plans
    own = [one for one in reviewed if wanted in (None, one.sealed.plan.id)]
    if rehearsals:
        return [one.rehearsal for one in own if one.rehearsal is not None]
    return [one.verdict for one in own]


COMMANDS = {"verdict": verdict}
