"""Which plan is listened to, and by whom, where the command does not say: the one that waits."""

from __future__ import annotations

import sys
from shlex import quote

import click

from ..casebook.store import Casebook
from ..errors import PlanError
from ..plans import next_steps, overview
from ..plans.standings import SEALED, UNDER_WAY, Overview
from .context import say
from .number_types import WholeRange


def chosen(casebook: Casebook, plan: str | None, listener: str | None, hint: str) -> tuple[str, str]:
    """The plan and the listener that wait, of those that were named if any were; asked about where several do.

    Raises
    ------
    PlanError
        If none waits, or several do and nobody can be asked; the message ends in a command.
    """
    if plan is not None and listener is not None:
        return plan, listener
    stands = overview.gather(casebook)
    found = _waiting(stands, plan, listener)
    if not found:
        raise PlanError(_none(stands, plan, listener, hint))
    if len(found) == 1:
        say(f"Plan {found[0][0]!r}, for {found[0][1]}.")
        return found[0]
    commands = [f"{hint} listen {quote(name)} --listener {quote(who)}" for name, who in found]
    if not sys.stdin.isatty():
        raise PlanError(f"{len(found)} sessions wait; name one: {'; '.join(commands)}")
    say("Several wait:")
    for number, (name, who) in enumerate(found, 1):
        say(f"  {number}: {name}, for {who}")
    chosen: tuple[str, str] = click.prompt("Which one?", type=OneOfThese(found))
    return chosen


class OneOfThese(click.ParamType[tuple[str, str]]):
    """A session that waits, by its number or as it is listed; by its plan or its listener where that tells which."""

    name = "which"

    def __init__(self, found: list[tuple[str, str]]) -> None:
        self.found = found

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, str]:
        """The plan and the listener that were meant."""
        typed = str(value).strip()
        meant = [one for one in self.found if typed in (f"{one[0]}, for {one[1]}", *one)]
        if typed.isdecimal() or len(meant) != 1:
            return self.found[WholeRange(1, len(self.found)).convert(typed, param, ctx) - 1]
        return meant[0]


def _waiting(stands: Overview, plan: str | None, listener: str | None) -> list[tuple[str, str]]:
    """The sealed plans that are not over, with each listener who has trials left."""
    return [
        (one.name, who.name)
        for one in stands.plans
        for who in one.listeners
        if one.state in (SEALED, UNDER_WAY) and not who.complete
        if plan in (None, one.name) and listener in (None, who.name)
    ]


def _none(stands: Overview, plan: str | None, listener: str | None, hint: str) -> str:
    step = next_steps.waiting(stands)[0]
    whose = f" for {listener}" if listener else ""
    what = f"plan {plan!r} does not wait for anybody to listen" if plan else f"no sealed plan waits to be heard{whose}"
    return f"{what}; next, {step.what}: {step.command(hint)}"
