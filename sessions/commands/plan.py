"""`plan`: design a blind test, show, list and close it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import asdict
from typing import Any, TypeVar

import click
from click.core import ParameterSource

from ..casebook import witness_rows
from ..errors import PlanError
from ..plans import (
    check_notes,
    draft_warnings,
    drafting,
    overview,
    plan_rows,
    planned_test,
    reasons,
    sealed_audio,
    seals,
    ways_out,
)
from ..plans.methods.method import Method
from ..plans.methods.table import METHODS
from ..plans.plan import Plan, void_reasons
from ..results import end_sentences, plan_sentences, publishing
from . import asked_device, before_seal, status, word_list
from .command_group import CommandGroup
from .context import Context, give, json_option, say
from .number_types import WHOLE
from .plan_close import close

Command = TypeVar("Command", bound=Callable[..., Any])

DECIMALS = {"alpha": "alpha", "effect": "effect", "beta": "beta", "rule_out": "rule-out", "step_db": "step"}


@click.group(cls=CommandGroup)
def plan() -> None:
    """Plans: tests fixed in advance."""


def _add_method(method: Method) -> None:
    counted, most = method.analysis == "count", method.setups[1]
    which = "The two setups, in order (give it twice)." if most == 2 else "A setup (repeat), in order."
    if method.first_is_reference:
        which = "A setup (repeat), in order; the first is the reference."
    usual = method.usual_effect
    sized = "mean difference in standard deviations" if method.effect_in_sd else "proportion"
    number = "by setups and passages" if method.trials_follow else method.usual_trials(2, 1)
    trials = f"Trials for each listener; usually {number}."

    @plan.command(method.name, help=method.about)
    @click.option("--name", default="", help="The plan's name; otherwise the method with a number.")
    @click.option("--setup", "setups", multiple=True, help=which)
    @click.option(
        "--passage",
        "passages",
        multiple=True,
        help="A passage to play (repeat); all of them if none is named.",
    )
    @click.option("--listener", "listeners", multiple=True, help="Who listens (repeat).")
    @click.option("--trials", type=WHOLE, help=trials + (" Sequential: the greatest number." if counted else ""))
    @click.option("--alpha", default="0.05", show_default=True, help="The error rate accepted.")
    @click.option("--effect", default=usual, show_default=True, help=f"The {sized} the test is meant to find.")
    @click.option("--question", default="", help="What the listener is asked.")
    @click.option("--operator", default="", help="Who runs the session; otherwise the first listener.")
    @click.option(
        "--accept",
        "accepted",
        multiple=True,
        metavar="KIND=WHY",
        help="A giveaway accepted, and why (repeat).",
    )
    @click.option("--exploratory", is_flag=True, help="Not one of the review's primary questions.")
    @_for(
        counted,
        "--stopping",
        type=click.Choice(planned_test.RULES),
        default=planned_test.FIXED,
        show_default=True,
        help="When it ends: after all trials, or as soon as its boundaries say.",
    )
    @_for(counted, "--beta", default="0.1", show_default=True, help="With --stopping sprt: the risk of a miss.")
    @_for(
        method.ties_possible,
        "--ties",
        type=click.Choice(planned_test.POLICIES),
        default=planned_test.NO_TIES,
        show_default=True,
        help="Whether 'no preference' may be said, and what becomes of it.",
    )
    @_for(method.side_foreseeable, "--one-sided", is_flag=True, help="The first setup is foreseen to be preferred.")
    @_for(
        method.controls_possible,
        "--controls",
        type=WHOLE,
        default=0,
        help="Trials in which all stimuli are the same setup; they never count."
        + (" At least (and usually) one in four of all." if method.asks_words else ""),
    )
    @click.option(
        "--known",
        type=WHOLE,
        default=0,
        hidden=not method.known_possible,
        help="Trials of a known difference (with --lift or --step); they never count.",
    )
    @click.option(
        "--lift",
        metavar="HZ:DB",
        default="",
        hidden=not method.known_possible,
        help="The known difference: an octave around HZ lifted by DB, made from the first setup.",
    )
    @click.option(
        "--step",
        "step_db",
        metavar="DB",
        default="",
        hidden=not method.known_possible,
        help="The known difference: a step of level (below 0: quieter).",
    )
    @_for(
        method.rule_out_possible,
        "--rule-out",
        default="",
        metavar="SHARE",
        help="The share of trials truly heard that the result is meant to rule out.",
    )
    @_for(method.asks_words, "--word", "words", multiple=True, metavar="W", help="A word that can be ticked (repeat).")
    @_for(
        method.asks_words,
        "--words",
        "word_file",
        default="",
        metavar="FILE|a,b,c",
        help="All of them: a file with one in each line, or with commas between them.",
    )
    @_for(method.asks_words, "--rated", is_flag=True, help="Words are rated, 0 (not at all) to 9, instead of ticked.")
    @_for(counted, "--by-passage", is_flag=True, help="Compare the passages as planned, not afterwards.")
    @click.option("--device", help="What it will be played on, to be asked now; otherwise the system's.")
    @json_option
    @click.pass_obj
    def make(
        context: Context,
        /,
        name: str,
        trials: int | None,
        accepted: tuple[str, ...],
        lift: str,
        device: str | None,
        as_json: bool,
        word_file: str = "",
        **wish: Any,
    ) -> None:
        with context.open() as casebook:
            for number, option in DECIMALS.items():
                if wish.get(number):
                    (_check_size if number == "step_db" else planned_test.check_decimal)(option, wish[number])
            lift_hz, lift_db = _lift(lift)
            if wish.get("rated") and _is_default("effect"):
                wish["effect"] = ""  # that of ticks is a proportion
            if word_file:
                wish["words"] = (*wish["words"], *word_list.listed(word_file))
            asked = plan_rows.Wish(
                method=method.name,
                trials=trials,
                accepted=tuple(map(acceptance, accepted)),
                lift_hz=lift_hz,
                lift_db=lift_db,
                **wish,
            )
            made, trouble = asked_device.trouble(casebook, drafting.draft(casebook, asked, name), device, as_json)
            warned = [
                *filter(None, [trouble]),
                *check_notes.sentences(casebook, made),
                *draft_warnings.warnings(casebook, made),
            ]
            ways = ways_out.of_draft(casebook, made)
        if as_json:
            give(dict(made.document) | {"would_be_void": void_reasons(made), "warnings": warned})
        else:
            show_plan(made)
            for line in warned:
                say(f"  {line}")
            before_seal.tell_further(made, context.hint, ways)


def _is_default(name: str) -> bool:
    """Whether nobody typed this option."""
    return click.get_current_context().get_parameter_source(name) is ParameterSource.DEFAULT


def _for(wanted: bool, *option: str, **settings: Any) -> Callable[[Command], Command]:
    """A click option where the method has use for it."""
    return click.option(*option, **settings) if wanted else lambda command: command


for _method in METHODS.values():
    _add_method(_method)


@plan.command("list")
@json_option
@click.pass_obj
def list_all(context: Context, as_json: bool) -> None:
    """List drafts and sealed plans with their progress and seals."""
    with context.open() as casebook:
        rows = overview.gather(casebook).plans
        noted = witness_rows.everything(casebook)
    published = {row.name: [asdict(one) for one in noted if row.seal and one.code == row.seal] for row in rows}
    if as_json:
        give({"plans": [asdict(row) | {"published": published[row.name]} for row in rows]})
        return
    for line in [line for row in rows for line in status.plan_lines(row)] or ["No plans yet."]:
        say(line)


@plan.command("show")
@click.argument("name")
@json_option
@click.pass_obj
def show(context: Context, name: str, as_json: bool) -> None:
    """Show a plan as it is, or would be, sealed."""
    with context.open() as casebook:
        draft = drafting.drafted(casebook, name)
        found = draft or seals.sealed_plan(casebook, name).plan
        drawn = "" if draft else seals.how_drawn(casebook, found)
        vain = planned_test.shows_nothing(found.method, found.document)
        more = planned_test.warnings(found.method, found.document)[:vain]
        if draft is not None:
            more = draft_warnings.warnings(casebook, draft)
        warned = [*check_notes.sentences(casebook, found), *more]
        ways = [] if draft is None else ways_out.of_draft(casebook, draft)
        gone = [] if draft else sealed_audio.faults(casebook, found)
        noted = publishing.of_seal(casebook, "" if draft else seals.sealed_plan(casebook, name).seal)
    if as_json:
        give(dict(found.document))
        return
    show_plan(found)
    if draft is None:
        say(f"  {drawn}")
        say(f"  {end_sentences.seal_published(noted)}")
    for line in (*warned, *(f"NOT ALL THERE: {fault}." for fault in gone)):
        say(f"  {line}")
    if draft is not None:
        before_seal.tell_further(draft, context.hint, ways)


plan.add_command(close)


def show_plan(made: Plan, *, told: bool = False) -> None:
    """A plan in words; `told`: what was found of its passages was told before."""
    for line in plan_sentences.in_words(made, told=told):
        say(line)


def acceptance(text: str) -> tuple[str, str]:
    """The kind of a giveaway that is accepted, and why.

    Raises
    ------
    PlanError
        If the text is not KIND=WHY, or has no reason in place of WHY.
    """
    kind, separator, why = text.partition("=")
    from audio.giveaways.findings import KINDS

    if not separator or not why.strip() or kind not in KINDS:
        raise PlanError(f"--accept takes KIND=WHY with one of {', '.join(KINDS)}; got {text!r}")
    reasons.check_reason(why, f"--accept {kind}")
    return kind, why.strip()


def _lift(text: str) -> tuple[int, str]:
    """The centre in Hz and the decibels of a lift; 0 and nothing where there is none."""
    if not text:
        return 0, ""
    hz, _, db = text.partition(":")
    if text.count(":") != 1 or not hz.isascii() or not hz.isdigit() or not int(hz):
        raise PlanError(f"--lift takes HZ:DB with whole hertz, such as 2000:1; got {text!r}")
    _check_size("lift", db)
    return int(hz), db


def _check_size(option: str, db: str) -> None:
    """Nothing, if it is a size as it stands in a plan: in decibels, with three decimals at most."""
    planned_test.check_decimal(option, db)
    if not re.fullmatch(r"[+-]?[0-9]+(\.[0-9]{1,3})?", db):
        raise PlanError(f"--{option} takes decibels with three decimals at most, such as 1.5; got {db!r}")


COMMANDS = {"plan": plan}
