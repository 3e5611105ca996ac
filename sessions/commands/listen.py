"""`listen`: a session in the terminal, with real playback."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from functools import partial
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from ..casebook import catalogue, session_ends
from ..casebook.catalogue import Listener
from ..casebook.store import Casebook
from ..listening.session import Session, begin
from . import asked_device, second_hand_prompt, waiting_plan
from .at_terminal import BUSY_TIMEOUT_MS, check_terminal, has_screen, wait_out, when_free
from .context import Context, confirmed, counted, say
from .free_listen import FreeWish, listen_freely
from .number_types import NumberRange
from .times import TIME

if TYPE_CHECKING:
    from ..listening.assistant_line import AssistantLine

PAGE = "This Python draws no listening screen (on Windows it never does). Open the plan as a page in a browser instead?"


@click.command()
@click.argument("plan", required=False)
@click.option("--listener", help="Who listens; the plan must name them. Needed where the plan waits for several.")
@click.option("--device", help="The playback device, by name; otherwise the system's. Real setups name their own.")
@click.option("--cards", is_flag=True, help="The assistant works from printed cards: the pause alone decides.")
@click.option("--dba", type=NumberRange(30, 110), help="The level at your ears as a meter reads it, for the dose.")
@click.option("--free", is_flag=True, help="Listen freely and sighted, level-matched; nothing of it counts.")
@click.option("--setup", "setups", multiple=True, help="Free: a setup to switch to (repeat); otherwise all.")
@click.option("--passage", "passages", multiple=True, help="Free: a passage (repeat); otherwise all.")
@click.option("--track", "tracks", multiple=True, help="Free: a whole track (repeat).")
@click.option("--from", "from_s", type=TIME, metavar="M:SS.S", help="Free: only from there in the track.")
@click.option("--to", "to_s", type=TIME, metavar="M:SS.S", help="Free: only up to there.")
@click.pass_obj
def listen(
    context: Context,
    /,
    plan: str | None,
    listener: str | None,
    device: str | None,
    cards: bool,
    dba: float | None,
    free: bool,
    **wish: Any,
) -> None:
    """Work through a sealed plan at this terminal; stop with q, and take it up again with the same command.

    Without PLAN it is the one that waits; where several do, they are listed and asked about. With --free no plan is
    needed: switch between setups as you like, and log words with w at the moment you hear them.
    """
    wanted = FreeWish(**wish)
    if free:
        if plan is not None or cards:
            raise click.UsageError("--free has no plan and no cards; leave them out")
        listen_freely(context, wanted, listener, device, dba)
        return
    if wanted != FreeWish():
        raise click.UsageError("--setup, --passage, --track, --from and --to belong to --free; a plan names its own")
    with context.open() as casebook:
        name, who = waiting_plan.chosen(casebook, plan, listener, context.hint)
        if not (cards or has_screen()) and sys.stdin.isatty() and confirmed(PAGE, default=True, as_json=False):
            _by_page(casebook, name, device, dba)
            return
        with _begun(casebook, name, who, device, context.hint) as session:
            run_session(session, device, context.hint, cards=cards, level_dba=dba)


def _by_page(casebook: Casebook, plan: str, device: str | None, level_dba: float | None) -> None:
    """The same plan by a page in a browser here, for as long as somebody wants it."""
    from .serve import serve

    casebook.close()  # every chair opens it for itself
    devices = (device,) if device else ()
    click.get_current_context().invoke(serve, plan=plan, devices=devices, dba=level_dba)


def _begun(casebook: Casebook, plan: str, listener: str, device: str | None, hint: str) -> Session:
    from ..listening import players
    from ..plans import seals

    check_terminal()
    sealed = seals.sealed_plan(casebook, plan).plan
    players.check_audio(casebook, sealed)
    asked_device.check_sealed(sealed, device, hint)
    return begin(casebook, plan, listener, device or "the system's default", second_hand_prompt.ask)


def run_session(
    session: Session, device: str | None, hint: str, *, cards: bool = False, level_dba: float | None = None
) -> bool:
    """Player, screen and trials, until all are answered or the listener stops; True when all are."""
    try:
        return _run(session, device, hint, cards=cards, level_dba=level_dba)
    except KeyboardInterrupt as error:
        raise click.Abort(f"stopped; {_so_far(session, device, hint)}") from error


def _so_far(session: Session, device: str | None, hint: str) -> str:
    """How many trials are answered, and how to go on."""
    count = f"{session.answered} of {counted(session.plan.slots, 'trial')}"
    if session.record.rehearsal is not None:
        return f"after {count} of a rehearsal, which begins anew"
    who = when_free(lambda: catalogue.find(session.casebook, Listener, session.record.listener_id)).name
    on = f" --device {quote(device)}" if device else ""
    listen_again = f"{hint} listen {quote(session.plan.name)} --listener {quote(who)}{on}"
    return f"{count} are answered, and kept; to go on: {listen_again}"


def _run(session: Session, device: str | None, hint: str, *, cards: bool, level_dba: float | None) -> bool:
    from audio.engine import device_clocks
    from audio.engine.interrupted import InterruptedPlayer

    from ..chair.kept_words import keep_word
    from ..listening import players
    from ..listening.trial_runner import TrialRunner
    from . import chair_screen

    session.casebook.set_busy_timeout(BUSY_TIMEOUT_MS)
    finished, runner = False, None
    try:
        _show_end(session, chair=True)
        with ExitStack() as open_things:
            line = _assistant_line(session, cards, open_things)
            ask = line.ask if line else wait_out if cards else None
            player = players.player_of(session.plan, device, ask)
            open_things.push(player.__exit__)
            runner = TrialRunner(session, player, level_dba=level_dba, announce=line.announce if line else None)
            kind = "" if session.record.rehearsal is None else " (REHEARSAL)"
            title = f"{session.plan.method.name} {session.plan.name}{kind}"
            listener = when_free(lambda: catalogue.find(session.casebook, Listener, session.record.listener_id))
            kept = partial(keep_word, runner, listener)
            say(f"One moment: {at_which(when_free(lambda: session.answered))}.")
            finished = when_free(runner.offer) is None or chair_screen.run(runner, title, kept)
            if isinstance(player, InterruptedPlayer) and len(player.clocks()) == 2:
                apart = device_clocks.difference(*player.clocks())
                if apart is not None:
                    say(f"The clocks of the two devices differ by {apart.words}; each switch started both afresh.")
            if runner.warning:
                say(f"Your ears: {runner.warning}")
    finally:
        if not finished:
            if runner is not None:
                when_free(runner.write_out)
            when_free(partial(session.mark, "stopped"))
        _show_end(session, chair=False)
    name = session.plan.name
    if finished:
        ended = f"All {session.plan.slots} trials are answered."
        if session.plan.sequential is not None:
            ended = f"The plan has come to its end after {session.answered} trials."
        say(f"{ended} The result: {hint} verdict {quote(name)}")
    elif session.record.rehearsal is not None:
        say(f"Stopped after {session.answered} of {session.plan.slots} trials; a rehearsal begins anew.")
    else:
        who = when_free(lambda: catalogue.find(session.casebook, Listener, session.record.listener_id)).name
        on = f" --device {quote(device)}" if device else ""
        say(
            f"Stopped after {session.answered} of {session.plan.slots} trials. To take it up again: {hint} listen "
            f"{quote(name)} --listener {quote(who)}{on}"
        )
    return finished


def at_which(answered: int) -> str:
    """The trial with which a session begins, or is taken up."""
    return f"trial {answered + 1}" if answered else "the first trial"


def _show_end(session: Session, *, chair: bool) -> None:
    """Show where the chain ends now: on a page of its own that waits for a key, or in lines of this terminal."""
    if session.record.rehearsal is not None:
        return  # what never counts needs no witness
    from ..results import end_sentences
    from . import end_screen, filmed_code

    shown = when_free(partial(session_ends.newest, session.casebook, session.record.id))
    words, code, to_type = end_sentences.shown(shown), str(shown.end.code), end_sentences.to_type(shown)
    if chair:
        end_screen.show(words, code, to_type, sys.stdout.encoding)
    else:
        filmed_code.tell(words, code, to_type)


def _assistant_line(session: Session, cards: bool, open_things: ExitStack) -> AssistantLine | None:
    """The line to the assistant's page, which is open meanwhile; where a person swaps setups and has no cards."""
    from ..listening import players

    if cards or not players.assisted(session.plan):
        return None
    from ..chair.sitting_down import House
    from ..pages import server
    from ..pages.opening import opened
    from .serve import assistant_told

    house = House(session.casebook.folder)  # nobody sits down here: it has no chair
    pages = open_things.enter_context(opened(house, (), lan=False, port=0))
    open_things.enter_context(server.beside(pages.app, pages.door))
    say(f"{assistant_told(pages)} (or, on this machine: earwitness assist {quote(session.plan.name)})")
    listener = when_free(lambda: catalogue.find(session.casebook, Listener, session.record.listener_id))
    return open_things.enter_context(house.assistants.line(session.plan, listener.name))


COMMANDS = {"listen": listen}
