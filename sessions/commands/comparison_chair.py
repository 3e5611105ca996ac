"""Who a comparison is made for, and its end: seal the draft and listen, or say how to go on later."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from shlex import quote
from typing import Any

import click

from ..casebook import catalogue
from ..casebook.store import FILE_NAME, Casebook
from ..plans import next_steps, overview, planned_test, sealed_beside, seals
from ..plans.plan import Plan, void_reasons
from ..plans.plan_rows import SealedPlan
from . import asked_device, seal
from .context import NOT_PRIVATE, Context, confirmed, give, say

BEFORE_FIRST = "The screen of the first trial takes the place of this."
ONCE_PUBLISHED = "Press Enter once it is published:"


@dataclass(frozen=True)
class Chair:
    """Who listens, on what, and how far to go by itself."""

    context: Context
    folder: Path
    hint: str
    who: str
    device: str | None
    again: str
    yes: bool
    no_listen: bool
    as_json: bool


@contextmanager
def going_on_later(chair: Chair, left: str) -> Iterator[None]:
    """What is there, and the command to go on, where somebody stops it with Ctrl-C."""
    try:
        yield
    except (KeyboardInterrupt, click.Abort) as error:
        raise click.Abort(f"stopped; {left}; to go on: {chair.again}") from error


def seal_and_listen(casebook: Casebook, made: Plan, chair: Chair, document: Callable[[str], dict[str, Any]]) -> None:
    """Seal a draft, if that is wished, and listen; leave with exit status 1 where the verdict would be void.

    `document` makes of a seal (empty: none) what programs are told.
    """
    name, hint, as_json = quote(made.name), chair.hint, chair.as_json
    if not void_reasons(made):
        with going_on_later(chair, f"the draft {made.name} is kept in {chair.folder}, not sealed"):
            made = asked_device.fitted_or_kept(casebook, made, chair.device, hint, as_json)
    if void_reasons(made):
        step = next_steps.waiting(overview.gather(casebook))[0]
        if as_json:
            give(document("") | {"void_reasons": void_reasons(made)})
        why = "; ".join(void_reasons(made, in_short=True))
        say(
            f"Not sealed, since the verdict would be void: {why}. What was made so far is in "
            f"{chair.folder}, with the draft {made.name}; next: {step.command(hint)}",
            as_json,
        )
        sys.exit(1)  # an answer, and no bad input
    with going_on_later(chair, f"the draft {made.name} is kept in {chair.folder}, not sealed"):
        vain = planned_test.shows_nothing(made.method, made.document)
        if vain:
            for line in planned_test.warnings(made.method, made.document):
                say(line, as_json)
        among = sealed_beside.place_among_others(casebook, made)
        for line in among.said:
            say(line, as_json)
        if not chair.yes:
            who = " and ".join(listener.name for listener in made.listeners)
            say(
                f"{who} {'listens' if len(made.listeners) == 1 else 'listen'}, and a sealed plan keeps that name. For "
                "somebody else answer n, and name them:",
                as_json,
            )
            for command in ("listener add NAME", f"edit draft {name} --listener NAME"):
                say(f"  {hint} {command}", as_json)
        sealing = chair.yes or confirmed("Seal this plan?", default=not (vain or among.in_vain.said), as_json=as_json)
    if not sealing:
        say(
            f"Not sealed. The draft is kept; to see it: {hint} plan show {name}; to seal it: {hint} seal {name}",
            as_json,
        )
        return
    sealed = seals.seal(casebook, made.name)
    if as_json:
        give(document(sealed.seal))
    if not chair.context.is_private(chair.folder / FILE_NAME):
        say(NOT_PRIVATE, as_json)
    seal.tell_seal(sealed, hint, as_json)
    if not chair.no_listen:
        again = f"{hint} listen {name} --listener {quote(chair.who)}"
        with going_on_later(replace(chair, again=again), f"plan {made.name} is sealed, and nothing of it is heard yet"):
            say(BEFORE_FIRST, as_json)
            click.prompt(ONCE_PUBLISHED, default="", show_default=False, prompt_suffix=" ", err=as_json)
    listen(casebook, sealed, chair)


def listen(casebook: Casebook, sealed: SealedPlan, chair: Chair) -> None:
    """Listen to a sealed plan, or say with which command that is done."""
    from ..listening.session import begin
    from .listen import run_session

    if chair.no_listen:
        seal.tell_listen(sealed.plan, chair.hint, chair.as_json)
        return
    asked_device.check_sealed(sealed.plan, chair.device, chair.hint)
    catalogue.listener_named(casebook, chair.who)
    with begin(casebook, sealed.plan.name, chair.who, chair.device or "the system's default") as session:
        run_session(session, chair.device, chair.hint)
