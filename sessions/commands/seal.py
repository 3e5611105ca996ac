"""`seal`: fix a plan, show its seal for publishing, and say how to go on."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import partial
from shlex import quote

import click

from ..casebook import secret_files
from ..errors import PlanError
from ..plans import (
    coin_phrase,
    drafting,
    plan_rows,
    planned_test,
    sealed_beside,
    seals,
)
from ..plans.plan import Plan, void_reasons
from ..plans.plan_rows import SealedPlan
from ..plans.sealed_beside import WordsInVain
from ..report import qr_codes
from ..results import end_sentences
from . import asked_device, filmed_code, second_hand_prompt
from .context import NOT_PRIVATE, Context, confirmed, give, json_option, say


@click.command()
@click.argument("name", required=False)
@click.option(
    "--anyway",
    is_flag=True,
    help="Seal even a plan whose verdict will be void, that can show nothing, or beside which a ballot's words cannot.",
)
@click.option("--device", help="What it will be played on, to be asked first; otherwise the system's.")
@click.option("--elsewhere", is_flag=True, help="It will be heard on another machine: ask no device here.")
@click.option(
    "--await-phrase",
    is_flag=True,
    help="The order follows from words too that somebody else gives once the seal is published (see phrase).",
)
@click.option(
    "--second-hand",
    "held",
    is_flag=True,
    help="Somebody else gives a second secret now, and types it for each session: without it nothing tells a key.",
)
@json_option
@click.pass_obj
def seal(
    context: Context,
    name: str | None,
    anyway: bool,
    device: str | None,
    elsewhere: bool,
    await_phrase: bool,
    held: bool,
    as_json: bool,
) -> None:
    """Fix a plan and the order of all its trials, and print the seal. NAME may be left out where one draft waits."""
    beside: list[str] = []  # told below the seal, whose code takes all of a small screen
    with context.open() as casebook:
        if name is None:
            name = _the_draft(plan_rows.draft_names(casebook), context.hint)
        draft = drafting.drafted(casebook, name)
        if draft is not None and (anyway or not void_reasons(draft)):  # else that is what it is refused for
            if not elsewhere:
                asked_device.check(draft, device, context.hint, as_json)
            among = sealed_beside.place_among_others(casebook, draft)
            if not (anyway or _agreed(draft, context.hint, as_json)):
                say(f"Not sealed. With more trials: {context.hint} edit draft {quote(name)} --trials N", as_json)
                sys.exit(1)
            beside = among.said
            if among.in_vain.said and not anyway:
                _agreed_in_vain(draft, among.in_vain, context.hint, as_json)
                beside = [among.begun] if among.begun else []  # the rest was told before it was asked
        ask = partial(second_hand_prompt.new, as_json) if held else None
        sealed = seals.seal(casebook, name, anyway=anyway, await_phrase=await_phrase, ask_second=ask)
        private = context.is_private(secret_files.path_of(casebook.folder, sealed.plan.id))
    for line in planned_test.lift_warnings(sealed.plan.document):
        say(line, as_json)
    if as_json:
        give(
            {
                "plan": sealed.plan.name,
                "seal": sealed.seal,
                "at": sealed.at,
                "rule": sealed.plan.document["rule"],
            }
        )
    notes = beside if private else [*beside, NOT_PRIVATE]
    if coin_phrase.is_awaited(sealed.plan) or held:
        notes.append(coin_phrase.how_drawn(sealed.plan, None))
    tell_seal(
        sealed, context.hint, as_json, [*notes, *map("Its verdict will be void: {}.".format, void_reasons(sealed.plan))]
    )
    if coin_phrase.is_awaited(sealed.plan):
        say(f'Its words: {context.hint} phrase {quote(sealed.plan.name)} "WORDS"', as_json)
    tell_listen(sealed.plan, context.hint, as_json)


def _the_draft(drafts: Sequence[str], hint: str) -> str:
    """The only draft that waits.

    Raises
    ------
    PlanError
        If none waits, or several do; the message says what seals each.
    """
    if not drafts:
        raise PlanError(f"no draft waits to be sealed; to make one: {hint} plan --help")
    if len(drafts) > 1:
        commands = "; ".join(f"{hint} seal {quote(name)}" for name in drafts)
        raise PlanError(f"{len(drafts)} drafts wait to be sealed; name one: {commands}")
    return drafts[0]


def _agreed(draft: Plan, hint: str, as_json: bool) -> bool:
    """Whether a plan is to be sealed: asked only where it can show nothing.

    Raises
    ------
    PlanError
        If nobody can be asked.
    """
    if not planned_test.shows_nothing(draft.method, draft.document):
        return True
    why, name = " ".join(planned_test.warnings(draft.method, draft.document)), quote(draft.name)
    if not sys.stdin.isatty():
        raise PlanError(
            f"plan {draft.name!r} is not sealed. {why} With more trials: {hint} edit draft {name} --trials N; to seal "
            f"it all the same: {hint} seal {name} --anyway"
        )
    say(why, as_json)
    return confirmed("Seal it all the same?", default=False, as_json=as_json)


def _agreed_in_vain(draft: Plan, in_vain: WordsInVain, hint: str, as_json: bool) -> None:
    """Go on only where a plan beside which words cannot hold is to be sealed all the same.

    Raises
    ------
    PlanError
        If nobody can be asked.
    """
    why, name = " ".join(in_vain.said), quote(draft.name)
    if not sys.stdin.isatty():
        raise PlanError(
            f"plan {draft.name!r} is not sealed. {why} To seal it all the same: {hint} seal {name} --anyway"
        )
    say(why, as_json)
    if confirmed("Seal it all the same?", default=False, as_json=as_json):
        return
    kept = f"The draft is kept: {hint} plan show {name}"
    if in_vain.own and not in_vain.others:  # else more of its trials would leave the others without hope
        kept = f"With more trials: {hint} edit draft {name} --trials N"
    say(f"Not sealed. {kept}", as_json)
    sys.exit(1)


def tell_seal(sealed: SealedPlan, hint: str, as_json: bool, notes: Sequence[str] = ()) -> None:
    """A seal, to be published before the first trial: as a code to film, what it is good for, and a line to post.

    What to post stands last, where it is still in sight on a small screen, its code on a line of its own.
    """
    name, rule = sealed.plan.name, sealed.plan.document["rule"]
    if not as_json:
        filmed_code.tell_code(qr_codes.seal_text(sealed.seal, rule))
    say(f"Plan {name!r} is sealed ({sealed.at}). {end_sentences.SEAL_PROVES}", as_json)
    for note in notes:
        say(note, as_json)
    say(end_sentences.PUBLISH, as_json)
    say(f"  {end_sentences.post(sealed)}", as_json)
    say(f"Note where it stands: {hint} witness {quote(name)} --by WHERE", as_json)


def tell_listen(sealed: Plan, hint: str, as_json: bool) -> None:
    """The command with which each listener of a sealed plan begins."""
    for listener in sealed.listeners:
        say(f"Listen: {hint} listen {quote(sealed.name)} --listener {quote(listener.name)}", as_json)


COMMANDS = {"seal": seal}
