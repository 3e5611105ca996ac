"""`assist`: the page of the person who swaps setups by hand, or their cards. Not for the listener's eyes."""

from __future__ import annotations

from pathlib import Path

import click

from ..casebook import catalogue
from ..casebook.catalogue import Listener
from ..casebook.store import Casebook
from ..errors import ListenError
from ..listening import assistant_cards, players
from ..listening.trial_order import TrialOrder
from ..plans import seals, second_hand
from ..plans.plan_rows import SealedPlan
from . import second_hand_prompt
from .context import Context, say
from .serve import open_browser

STEPS = "Do the same every time, even where it stays as it is: unplug, wait, plug in, sit down, then press."


@click.command()
@click.argument("plan")
@click.option("--listener", help="Who listens; needed for the cards.")
@click.option("--cards", type=click.Path(path_type=Path), help="Write printable cards to this file instead.")
@click.option("--no-browser", is_flag=True, help="Say where the page is, and open none.")
@click.pass_obj
def assist(context: Context, plan: str, listener: str | None, cards: Path | None, no_browser: bool) -> None:
    """Open the page that shows the assistant what to connect, one swap after the other; or write their cards to a file.

    The listener must not see this page or the cards: they tell the key. Plans worked this way are single-blind.
    """
    with context.open() as casebook:
        found = seals.sealed_plan(casebook, plan)
        sealed = found.plan
        if not players.assisted(sealed):
            raise ListenError(f"no assistant is needed in plan {sealed.name!r}: its setups are not swapped by hand")
        if cards is not None:
            if listener is None:
                raise click.UsageError("the cards are one listener's: name them with --listener")
            person = catalogue.find(casebook, Listener, listener)
            if person.name not in [each.name for each in sealed.listeners]:
                raise ListenError(f"plan {sealed.name!r} was not sealed for {listener!r}")
            _write(casebook, found, person, cards)
            return
        found_pages = _pages(casebook)
    say(f"{sealed.blinding}. Keep this page from the listener's eyes. {STEPS}")
    say(f"The assistant's page: {found_pages}")
    if not no_browser:
        open_browser(found_pages)


def _pages(casebook: Casebook) -> str:
    """The assistant's page of the session that runs.

    Raises
    ------
    ListenError
        If none does.
    """
    from ..pages import kept_guests, opening

    guests = kept_guests.found(casebook.folder, 0.0)
    if not guests.address or not opening.are_open(casebook.folder):
        raise ListenError(
            "no session of this casebook is running; start earwitness listen or earwitness serve first, then this page"
        )
    return f"{guests.address}/assist#{guests.assistant_code}"


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
