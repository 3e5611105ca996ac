"""`verdict`: the result of a plan, in numbers and in plain sentences."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..plans import check_notes, seals
from ..results import chosen_lags, heard_freely, practised, review, sentences, supplementary_sentences, terms
from ..results.supplementary_sentences import Block
from ..results.verdict import CANNOT_BE_JUDGED, Verdict, unjudged
from .context import Context, give, json_option, say

if TYPE_CHECKING:
    from ..measured.curve_sentences import MeasurementSentences


@dataclass(frozen=True)
class Shown:
    """A verdict as it is shown: for programs, for people, and whether it could be judged at all.

    `lines` are the two that are read first, then the numbers; `beside` is what changes nothing in the verdict.
    """

    name: str
    document: dict[str, Any]
    lines: list[str]
    beside: list[Block]
    judged: bool


@click.command()
@click.argument("plan", required=False)
@click.option("--rehearsals", is_flag=True, help="The newest rehearsal of each plan instead; it never counts.")
@click.option("--all", "everything", is_flag=True, help="Also what stands beside it, and what the terms mean.")
@json_option
@click.pass_context
def verdict(ctx: click.Context, plan: str | None, rehearsals: bool, everything: bool, as_json: bool) -> None:
    """What PLAN (or every sealed plan) came to: heard, not shown, undecided or void, with its numbers.

    Two lines say it first. With --all each listener, each passage, a Bayesian reading, how the sessions went and what
    was measured stand below: nothing there changes the verdict.
    """
    context: Context = ctx.obj
    with context.open() as casebook:
        judged = _verdicts(casebook, plan, rehearsals=rehearsals)
        found = [_shown(casebook, one, in_full=everything or as_json) for one in judged]
    if as_json:
        give({"plans": [one.document for one in found]})
    elif not found:
        say("No rehearsal yet." if rehearsals else "No sealed plan yet.")
    else:
        for place, one in enumerate(found):
            _say(one, everything=everything, rehearsals=rehearsals, first=place == 0)
    ctx.exit(0 if plan is None or all(one.judged for one in found) else 1)


def _say(one: Shown, *, everything: bool, rehearsals: bool, first: bool) -> None:
    """The two lines, the numbers, and what stands beside them: as blocks, or where to have it."""
    if not first:
        say("")
    for place, sentence in enumerate(one.lines):
        say(sentence if place == 0 else f"  {sentence}")
    if everything:
        for block in one.beside:
            say(f"  {block.title}:")
            for line in block.lines:
                say(f"    {line}")
    elif one.beside and one.document["verdict"] is not None:
        option = " --rehearsals" if rehearsals else ""
        say(f"  More, which changes none of it: earwitness verdict {quote(one.name)}{option} --all")


def _shown(casebook: Casebook, one: Verdict, *, in_full: bool) -> Shown:
    """A verdict put into words, with what was measured beside it where it is told or else nothing would be."""
    shown = _put(casebook, one, measured=_measured(casebook, one) if in_full else None)
    if in_full or shown.beside or one.verdict is None:
        return shown
    return _put(casebook, one, measured=_measured(casebook, one))


def _put(casebook: Casebook, one: Verdict, measured: MeasurementSentences | None) -> Shown:
    """A verdict put into words; what stands beside it each by itself."""
    drawn = "" if one.rehearsal else review.by_itself(lambda: seals.how_drawn(casebook, one.plan), lambda _: "")
    lags = review.by_itself(lambda: chosen_lags.sentences(casebook, one.plan), lambda _: list[str]())
    notes = review.by_itself(lambda: check_notes.of_plan(casebook, one.plan), lambda _: list[str]())
    freely = review.by_itself(lambda: heard_freely.sentences(casebook, one.plan), lambda _: list[str]())
    own = review.by_itself(lambda: practised.practised(casebook, one.plan), lambda _: list[practised.Practised]())
    said = partial(_in_words, measured=measured, drawn=drawn, lags=lags, notes=notes, freely=freely, own=own)
    return review.by_itself(lambda: said(one), lambda reason: said(unjudged(one.plan, reason, rehearsal=one.rehearsal)))


def _measured(casebook: Casebook, one: Verdict) -> MeasurementSentences:
    from ..measured import curve_sentences
    from ..results import ears_and_curves

    def measured() -> MeasurementSentences:
        setups = [catalogue.find(casebook, Setup, setup.id) for setup in one.plan.setups]
        found = curve_sentences.measurements_of(casebook, setups)
        remarks = ears_and_curves.of_plan(casebook, one.plan, found.comparisons)
        return replace(found, sentences=[*found.sentences, *remarks])

    def instead(reason: str) -> MeasurementSentences:
        said = [f"Measured: cannot be shown: {reason.rstrip('.')}."]
        return curve_sentences.MeasurementSentences(said, [])

    return review.by_itself(measured, instead)


def _in_words(
    one: Verdict,
    measured: MeasurementSentences | None,
    drawn: str,
    lags: list[str],
    notes: list[str],
    freely: list[str],
    own: list[practised.Practised],
) -> Shown:
    lines = [*sentences.result(one), *check_notes.in_words(notes), *freely, *practised.sentences(own), *lags]
    beside = supplementary_sentences.blocks(one)
    if measured and measured.sentences and one.verdict is not None:
        beside.append(Block("What was measured", measured.sentences))
    if drawn:
        beside.append(Block("How the key was drawn", [drawn]))
    explained = terms.explained([*lines, *(line for block in beside for line in block.lines)])
    if explained:
        beside.append(Block("What the terms mean", explained))
    return Shown(
        one.plan.name,
        one.to_document()
        | ({"measured": measured.to_document()} if measured else {})
        | {"key_drawn": drawn}
        | ({"chosen_lags": lags} if lags else {})
        | ({"check_notes": notes} if notes else {})
        | ({"heard_freely": freely} if freely else {})
        | ({"practised": documents.plain(own)} if own else {}),
        lines,
        beside,
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
