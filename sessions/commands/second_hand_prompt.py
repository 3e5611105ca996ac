"""Asking for a second secret at the keyboard: a new one when a plan is sealed, and the same one again later.

It is typed unseen and kept in memory alone. Where there is no terminal one line of standard input is read.
"""

from __future__ import annotations

import secrets
import sys
from shlex import quote

import click

from ..errors import PlanError
from ..plans import second_hand
from ..plans.plan_rows import SealedPlan
from .context import say
from .plain_text import plain

ATTEMPTS = 3
WHO = (
    "This part is for somebody else, who will not listen. They type a second secret here, or have one made; whoever "
    "listens or runs the test looks away from screen and keyboard until it says that they may look again. Keep it "
    "well: it is asked for before each session, no file holds it, and without it the plan can never be opened."
)
HOLDER = "Who holds it types it now, unseen: nothing appears, and whoever listens or runs the test looks away."
WRITE_DOWN = "The second secret. Only who holds it looks here: write it down, or photograph it, and show it to nobody."
OTHER_SCREEN, OWN_SCREEN = "\x1b[?1049h\x1b[2J\x1b[H", "\x1b[2J\x1b[H\x1b[?1049l"  # ECMA-48 and xterm's second screen


def new(as_json: bool = False) -> str:
    """A second secret for a plan that is being sealed, normalised: typed twice, or drawn and shown once.

    Raises
    ------
    PlanError
        If it is too short, or was typed otherwise the second time.
    """
    if not sys.stdin.isatty():
        return second_hand.chosen(sys.stdin.readline())
    say(WHO, as_json)
    typed = _hidden(f"Second secret, at least {second_hand.LEAST} letters or digits (Enter: one is made)", as_json)
    if not typed:
        drawn = second_hand.drawn(secrets.token_bytes(second_hand.DRAWN_BYTES))
        _show_once(drawn)
        say("The screen is clear; everybody may look again.", as_json)
        return second_hand.normalised(drawn)
    second = second_hand.chosen(typed)
    if second_hand.normalised(_hidden("The same again", as_json)) != second:
        raise PlanError("the second secret was typed otherwise the second time; seal again")
    say("Everybody may look again.", as_json)
    return second


def ask(sealed: SealedPlan, as_json: bool = False, later: str = "") -> str:
    """The second secret of a sealed plan, as it was typed; a wrong one may be typed again.

    Parameters
    ----------
    later
        Where it can be typed later: then nothing typed gives an empty text.

    Raises
    ------
    PlanError
        If it was wrong to the last.
    """
    plan = sealed.plan
    terminal = sys.stdin.isatty()
    enter = f" (Enter: it is typed {later})" if later else ""
    for left in reversed(range(ATTEMPTS if terminal else 1)):
        typed = (
            _hidden(f"{HOLDER}\nThe second secret of plan {plan.name}{enter}", as_json)
            if terminal
            else sys.stdin.readline()
        )
        if later and not typed.strip():
            return ""
        if second_hand.fits(plan, second_hand.normalised(typed)):
            return typed
        if left:
            say("That is not it; once more.", as_json)
    raise PlanError(
        f"this is not the second secret of plan {plan.name!r}, which stays sealed; ask who holds it to type it again "
        "(without it the plan can be neither opened nor closed; lost for good, it is given up unopened: "
        f"earwitness plan close {quote(plan.name)} --lost-secret --why TEXT)"
    )


def _hidden(text: str, as_json: bool) -> str:
    return str(click.prompt(plain(text), default="", hide_input=True, show_default=False, err=as_json))


def _show_once(drawn: str) -> None:
    """Show a second secret on a screen of its own, until a key is pressed; nothing of it stays in the terminal."""
    click.echo(f"{OTHER_SCREEN}{WRITE_DOWN}\n\n    {drawn}\n\nPress a key when it is written down.", err=True)
    try:
        click.getchar()
    finally:
        click.echo(OWN_SCREEN, nl=False, err=True)
