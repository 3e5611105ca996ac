"""`assist`: the screen of the person who swaps setups by hand, or their cards. Not for the listener's eyes."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from ..casebook import catalogue
from ..casebook.catalogue import Listener
from ..casebook.store import Casebook
from ..errors import ListenError
from ..listening import assistant_cards, assistant_line, players
from ..listening.trial_order import TrialOrder
from ..plans import seals, second_hand
from ..plans.plan_rows import SealedPlan
from . import second_hand_prompt
from .context import Context, say

STEPS = "Do the same every time, even where it stays as it is: unplug, wait, plug in, sit down, press Enter."


@click.command()
@click.argument("plan")
@click.option("--listener", required=True, help="Who listens.")
@click.option("--cards", type=click.Path(path_type=Path), help="Write printable cards to this file instead.")
@click.pass_obj
def assist(context: Context, plan: str, listener: str, cards: Path | None) -> None:
    """Show the assistant what to connect, one swap after the other; or write their cards to a file.

    The listener must not see this screen or the cards: they tell the key. Plans worked this way are single-blind.
    """
    with context.open() as casebook:
        found = seals.sealed_plan(casebook, plan)
        sealed = found.plan
        if not players.assisted(sealed):
            raise ListenError(f"no assistant is needed in plan {sealed.name!r}: its setups are not swapped by hand")
        person = catalogue.find(casebook, Listener, listener)
        if person.name not in [each.name for each in sealed.listeners]:
            raise ListenError(f"plan {sealed.name!r} was not sealed for {listener!r}")
        if cards is not None:
            _write(casebook, found, person, cards)
            return
        if not sys.stdin.isatty():
            raise ListenError("the assistant's screen waits for Enter; run it in a terminal")
        path = assistant_line.address(casebook, sealed, person.id)
    say(f"{sealed.blinding}. Keep this screen from the listener's eyes. {STEPS}")
    for order, done in assistant_line.orders(path):
        _tell(order)
        click.prompt("Enter when you sit again", default="", show_default=False, prompt_suffix=" ")
        done()
    say("The session is over, or stopped.")


def _tell(order: assistant_line.Order) -> None:
    """Say what is to be connected now."""
    say(f"\nSwap {order.number} (trial {order.trial}, within {order.seconds} s): {order.say}")


def _write(casebook: Casebook, sealed: SealedPlan, person: Listener, path: Path) -> None:
    held = second_hand_prompt.ask(sealed) if second_hand.is_held(sealed.plan) else None
    order = TrialOrder(sealed.plan, seals.unlock(casebook, sealed, held).coin_key, person.id)
    head = f"{sealed.plan.name}, {person.name}. For the assistant only: who reads this knows the key.\n{STEPS}\n"
    body = "\n\n- - - - - - - - cut here - - - - - - - -\n\n".join(assistant_cards.cards(order))
    with path.open("x", encoding="utf-8") as file:
        path.chmod(0o600)
        file.write(f"{head}\n{body}\n")
    say(f"The cards are in {path}. Hand them over unread; burn or seal them when the evening is over.")


COMMANDS = {"assist": assist}
