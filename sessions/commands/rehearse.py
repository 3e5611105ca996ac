"""`rehearse`: a plan worked through by a simulated listener, or as practice. Never counted."""

from __future__ import annotations

import shlex
from shlex import quote

import click

from ..casebook import catalogue
from ..casebook.catalogue import Passage, Setup
from ..casebook.store import Casebook
from ..errors import PlanError
from ..listening import simulated_listener
from ..plans import plan_rows
from .context import Context, give, json_option, say
from .number_types import NUMBER, WHOLE


@click.command()
@click.argument("plan")
@click.option("--hears", type=NUMBER, help="Simulate a listener that hears it in this share of the trials (0 to 1).")
@click.option("--seed", type=WHOLE, default=1, show_default=True, help="Of the simulation, or of the practice's order.")
@click.option("--listener", help="Practise in person instead: the same screen and playback, never counted.")
@click.option("--device", help="The playback device for practice.")
@json_option
@click.pass_obj
def rehearse(
    context: Context,
    plan: str,
    hears: float | None,
    seed: int,
    listener: str | None,
    device: str | None,
    as_json: bool,
) -> None:
    """Rehearse PLAN; its result is marked as a rehearsal everywhere and is never in a verdict."""
    if (hears is None) == (listener is None):
        raise PlanError("rehearse takes --hears P for a simulated listener, or --listener NAME for practice")
    if listener is not None:
        _practise(context, plan, listener, seed, device)
        return
    assert hears is not None
    with context.open() as casebook:
        check_sealed(casebook, plan)
        done = simulated_listener.rehearse(casebook, plan, hears, seed)
    if as_json:
        give({"plan": plan, "session": done.session_id, "trials": done.answered, "rehearsal": True})
    say(
        f"REHEARSAL of {plan!r}: {done.answered} trials by a simulated listener that hears {hears:g} of them "
        f"(seed {seed}). Its result: {context.hint} verdict {quote(plan)} --rehearsals",
        as_json,
    )


def _practise(context: Context, plan: str, listener: str, seed: int, device: str | None) -> None:
    from ..listening.session import PRACTICE, Rehearsal, begin_rehearsal
    from ..plans import seals
    from . import asked_device
    from .at_terminal import check_terminal
    from .listen import run_session

    with context.open() as casebook:
        check_sealed(casebook, plan)
        made = seals.sealed_plan(casebook, plan).plan
        check_terminal()
        asked_device.check_sealed(made, device, context.hint)
        person = catalogue.listener_named(casebook, listener)
        practice = Rehearsal(PRACTICE, seed)
        with begin_rehearsal(casebook, made, person, practice, device or "the system's default") as session:
            run_session(session, device, context.hint)


def check_sealed(casebook: Casebook, name: str) -> None:
    """Nothing, unless the plan is still a draft.

    Raises
    ------
    PlanError
        If it is; with what can be heard of it before its seal.
    """
    draft = plan_rows.draft(casebook, name)
    if draft is None or plan_rows.sealed(casebook, name) is not None:
        return
    wish = draft.wish
    named = [word for one in wish.setups for word in ("--setup", catalogue.find(casebook, Setup, one).name)]
    named += [word for one in wish.passages for word in ("--passage", catalogue.find(casebook, Passage, one).name)]
    raise PlanError(
        f"plan {name!r} is not sealed yet, and only what is sealed is rehearsed. Before that, the same music is heard "
        f"level-matched, sighted and uncounted with: earwitness {shlex.join(['listen', '--free', *named])}; to seal "
        f"it, after which rehearsals never count either: earwitness {shlex.join(['seal', name])}"
    )


COMMANDS = {"rehearse": rehearse}
