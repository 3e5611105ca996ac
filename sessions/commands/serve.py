"""`serve`: the listener's chair page and the operator's desk page, from this machine, until Ctrl-C."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..casebook import session_ends
from ..casebook.store import Casebook
from ..errors import PlanError
from . import same_command
from .context import Context, say
from .number_types import NumberRange, WholeRange

if TYPE_CHECKING:
    from ..chair.waiting import Waiting
    from ..listening.session import Session
    from ..pages.opening import Opened
    from ..plans.plan import Plan
    from ..plans.plan_rows import SealedPlan

PORT = 8421
MOST_PAGES = 100  # that play by themselves at once: each trial's sounds are held here for each of them
AWAKE = (
    "On a phone: same wireless network, screen set to stay on (over plain HTTP a page may not keep it awake), and no "
    "saving of power that stops the page."
)
PANEL = "Anybody on this network who has the code can sit down; the rest of it sees a page that asks for the code."


@click.command()
@click.argument("plan", required=False)
@click.option(
    "--lan", is_flag=True, help="Serve to the local network, for phones and a panel; otherwise to this machine."
)
@click.option("--port", type=WholeRange(0, 65535), default=PORT, show_default=True, help="The port; 0 for a free one.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser here.")
@click.option("--device", "devices", multiple=True, help="A playback device (repeat: a chair for each).")
@click.option(
    "--sound",
    type=click.Choice(["here", "browser"]),
    default="here",
    show_default=True,
    help="Where it comes from: a device of this machine, or each listener's own browser.",
)
@click.option("--free", is_flag=True, help="Offer free, sighted listening over --lan, too: it shows names of setups.")
@click.option("--tls-cert", type=click.Path(path_type=Path), help="A certificate (PEM), to serve HTTPS.")
@click.option("--tls-key", type=click.Path(path_type=Path), help="Its key (PEM).")
@click.option("--dba", type=NumberRange(30, 110), help="The level at the ears as a meter reads it, for the dose.")
@click.pass_obj
def serve(
    context: Context,
    plan: str | None,
    lan: bool,
    port: int,
    no_browser: bool,
    devices: tuple[str, ...],
    sound: str,
    free: bool,
    tls_cert: Path | None,
    tls_key: Path | None,
    dba: float | None,
) -> None:
    """Listen by a page in a browser: the remote is in the hand, the sound comes from this machine's device.

    PLAN alone is offered, or without it all plans that wait; practice and training, which never count, come with them.
    Free, sighted listening is offered on this machine, and with --free to the network. The operator's desk is a page
    too, from two folders of recordings to the verdict; where nobody waits to listen it is the desk that is opened,
    unless --free asks for the chair. Everything said to the pages stays on this machine or its local network. Stop
    with Ctrl-C; sessions go on where they were when it is started again.
    """
    from ..chair.sitting_down import House, browser_player_of, device_player, own_rates
    from ..pages import server
    from ..pages.opening import opened
    from . import asked_device

    own_sound = sound == "browser"
    if own_sound and devices:
        raise click.UsageError("--device names one of this machine; with --sound browser leave it out")
    if own_sound and lan and dba is not None:
        raise click.UsageError(
            "--dba is one reading at one place; with --lan --sound browser each device plays at a level of its own, "
            "which is not known: leave it out"
        )
    if (tls_cert is None) != (tls_key is None):
        raise click.UsageError("--tls-cert and --tls-key belong together; give both")
    with context.open() as casebook:
        casebook.check_writable()
        waiting = _waiting(casebook, plan, context.hint)  # nobody may: then it is the desk that is worked at
        seconds = _second_secrets(casebook, waiting)
        assisted = _assisted(casebook, waiting)
    house = House(
        casebook.folder,
        open_player=browser_player_of(casebook.folder) if own_sound else device_player,
        check=lambda made, device: _check(made, device, context.hint, own_sound=own_sound),
        ask_second=lambda sealed: _second(sealed, seconds),
        turned=_show_end,
        level_dba=dba,
        own_sound=own_sound,
        offers=frozenset({"practice", "training", *(("free",) if free or not lan else ())}),
        rates=own_rates if own_sound else asked_device.free_rates,
        seconds=seconds,
        tell=say,
    )
    scheme = "http" if tls_cert is None else "https"
    chairs = (None,) * MOST_PAGES if own_sound else devices or (None,)
    with opened(house, chairs, plan, lan=lan, port=port, scheme=scheme) as pages:
        _tell(pages, lan=lan, plain=tls_cert is None)
        if assisted:
            say(assistant_told(pages))
        if not no_browser:
            desk, chair = f"/desk#{pages.room.guests.desk_code}", f"/#{pages.room.guests.code}"
            open_browser(f"{pages.here}{chair if waiting or free else desk}")
        server.serve(pages.app, pages.door, tls_cert, tls_key, say)
        say("One moment: chairs are left, and what was answered is kept.")
    say(f"The pages are closed. To open them again: {same_command.typed_again(click.get_current_context())}")


def assistant_told(pages: Opened) -> str:
    """Where the assistant finds their page."""
    code = pages.room.guests.assistant_code
    return f"The assistant, who swaps setups unseen, opens: {pages.address}/assist#{code}"


def _waiting(casebook: Casebook, plan: str | None, hint: str) -> list[Waiting]:
    """Who waits to listen; nobody may, where no plan is named.

    Raises
    ------
    PlanError
        If a plan is named and nobody waits for it; the message ends in a command.
    """
    from ..chair import waiting
    from ..plans import next_steps, overview

    found = [one for one in waiting.waiting(casebook, plan) if not one.complete]
    if not found and plan is not None:
        step = next_steps.waiting(overview.gather(casebook))[0]
        what = f"plan {plan!r} does not wait for anybody to listen"
        raise PlanError(f"{what}; next, {step.what}: {step.command(hint)}")
    return found


def _second_secrets(casebook: Casebook, waiting: list[Waiting]) -> dict[str, str]:
    """The second secrets of plans that have one, as far as they are typed here and not at the desk; by plan."""
    from ..plans import seals, second_hand
    from . import second_hand_prompt

    sealed = [seals.sealed_plan(casebook, name) for name in dict.fromkeys(one.plan for one in waiting)]
    held = [one for one in sealed if second_hand.is_held(one.plan)]
    typed = {one.plan.id: second_hand_prompt.ask(one, later="at the desk, on the plan's page") for one in held}
    return {plan: second for plan, second in typed.items() if second}


def _second(sealed: SealedPlan, typed: Mapping[str, str]) -> str:
    if sealed.plan.id not in typed:
        raise PlanError(
            f"plan {sealed.plan.name!r} has a second secret; who holds it types it at the desk, on the plan's page"
        )
    return typed[sealed.plan.id]


def _check(plan: Plan, device: str | None, hint: str, *, own_sound: bool) -> None:
    from ..listening import browser_playback
    from . import asked_device

    if own_sound:
        browser_playback.check(plan)
        return
    asked_device.check_sealed(plan, device, hint)


def _assisted(casebook: Casebook, waiting: list[Waiting]) -> bool:
    """Whether a person swaps the setups of a plan that waits."""
    from ..listening import players
    from ..plans import seals

    names = dict.fromkeys(one.plan for one in waiting)
    return any(players.assisted(seals.sealed_plan(casebook, name).plan) for name in names)


def _tell(pages: Opened, *, lan: bool, plain: bool) -> None:
    """Where the pages are, and how to come in."""
    from ..pages.desk_routes import joining_address
    from . import filmed_code

    code = pages.room.guests.code
    if lan:
        words = [f"Listeners open {pages.address} and type the code {code}, or point a camera here.", PANEL]
        words += [AWAKE] if plain else []
        at_once = joining_address(pages.address, code)
        filmed_code.tell(words, at_once, f"To come in at once: {at_once}")
    else:
        say(f"The chair: {joining_address(pages.here, code)}")
    say(f"The desk, for the operator alone: {pages.here}/desk#{pages.room.guests.desk_code}")
    whence = "each listener's browser" if pages.room.house.own_sound else "this machine"
    say(f"Stop with Ctrl-C. Sound comes from {whence}; start quiet, and protect your ears.")


def _show_end(session: Session) -> None:
    """Show where the chain ends now, in lines of this terminal, as each session begins and ends."""
    if session.record.rehearsal is not None:
        return
    from ..results import end_sentences
    from . import filmed_code

    shown = session_ends.newest(session.casebook, session.record.id)
    filmed_code.tell(end_sentences.shown(shown), str(shown.end.code), end_sentences.to_type(shown))


def open_browser(address: str) -> None:
    """Open a page in this machine's browser, or say that there is none."""
    import webbrowser

    if not webbrowser.open(address):
        say("No browser could be opened here; open the address yourself.", as_json=not sys.stdout.isatty())


COMMANDS = {"serve": serve}
