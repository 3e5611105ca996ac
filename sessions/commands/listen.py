"""`listen`: a session in the terminal, with real playback."""

from __future__ import annotations

import sys
import time
from contextlib import ExitStack
from typing import TYPE_CHECKING

import click

from ..casebook import catalogue
from ..casebook.catalogue import Listener
from ..casebook.store import Casebook
from ..errors import ListenError
from ..listening.session import Offered, Session, begin
from ..words import log
from .context import Context, say

if TYPE_CHECKING:
    from ..listening.assistant_line import Desk

CARDS_SPARE_S = 0.2


@click.command()
@click.argument("plan")
@click.option("--listener", required=True, help="Who listens; the plan must name them.")
@click.option("--device", help="The playback device, by name; otherwise the system's. Real setups name their own.")
@click.option("--cards", is_flag=True, help="The assistant works from printed cards: the pause alone decides.")
@click.option("--dba", type=click.FloatRange(30, 110), help="The level at your ears as a meter reads it, for the dose.")
@click.pass_obj
def listen(context: Context, plan: str, listener: str, device: str | None, cards: bool, dba: float | None) -> None:
    """Work through a sealed plan at this terminal; stop with q, and take it up again with the same command."""
    with context.open() as casebook, _begun(casebook, plan, listener, device) as session:
        sit(session, device, context.hint, cards=cards, level_dba=dba)


def _begun(casebook: Casebook, plan: str, listener: str, device: str | None) -> Session:
    check_terminal()
    return begin(casebook, plan, listener, device or "the system's default")


def check_terminal() -> None:
    """Nothing, if this is a terminal.

    Raises
    ------
    ListenError
        If keys cannot be read or a screen cannot be drawn here.
    """
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise ListenError("listening needs a terminal for its screen and keys; run it in one, not through a pipe")


def sit(
    session: Session, device: str | None, hint: str, *, cards: bool = False, level_dba: float | None = None
) -> bool:
    """Sit the listener down: player, screen, trials, until all are answered or they stop; True when all are."""
    from audio.engine import device_clocks
    from audio.engine.interrupted import InterruptedPlayer

    from ..listening import playback
    from ..listening.trial_runner import Sitting
    from . import chair_screen

    finished = False
    try:
        with ExitStack() as open_things:
            desk = _desk(session, cards, open_things)
            ask = desk.ask if desk else _wait_out if cards else None
            player = playback.playback(session.plan, device, ask)
            open_things.push(player.__exit__)
            sitting = Sitting(session, player, level_dba=level_dba, told=desk.trial if desk else None)

            def keep_word(term: str, strength: int, stimulus: str, track_ms: int) -> None:
                keep_blind_word(session, sitting.current, log.Word(term, strength, track_ms, True), stimulus)

            title = f"{session.plan.method.name} {session.plan.name}" + (
                " (REHEARSAL)" if session.row["rehearsal"] else ""
            )
            finished = chair_screen.run(sitting, title, keep_word)
            if isinstance(player, InterruptedPlayer) and len(player.clocks()) == 2:
                apart = device_clocks.difference(*player.clocks())
                if apart is not None:
                    say(f"The clocks of the two devices differ by {apart.words}; each switch started both afresh.")
            if sitting.warning:
                say(f"Your ears: {sitting.warning}")
    finally:
        if not finished:
            session.mark("stopped")
    name = session.plan.name
    if finished:
        ended = f"All {session.plan.slots} trials are answered."
        if session.plan.sequential is not None:
            ended = f"The plan has come to its end after {session.answered} trials."
        say(f"{ended} The result: {hint} verdict {name}")
    else:
        say(f"Stopped after {session.answered} of {session.plan.slots} trials; take it up again with the same command.")
    return finished


def _desk(session: Session, cards: bool, open_things: ExitStack) -> Desk | None:
    """The line to the assistant's screen, where a person swaps the setups and has no cards."""
    from ..listening import assistant_line, playback

    if cards or not playback.assisted(session.plan):
        return None
    path = assistant_line.address(session.casebook, session.plan, session.row["listener_id"])
    say(f"The assistant opens their screen with: earwitness assist {session.plan.name} --listener NAME")
    return open_things.enter_context(assistant_line.Desk(path, session.plan))


def _wait_out(place: int, seconds: float) -> bool:
    """Printed cards answer nothing: the whole pause is theirs."""
    time.sleep(max(0.0, seconds - CARDS_SPARE_S))
    return True


def keep_blind_word(session: Session, offered: Offered, word: log.Word, stimulus: str) -> None:
    """Keep a word said in a blind trial: it names the label heard, and no setup."""
    from dataclasses import replace

    listener = catalogue.find(session.casebook, Listener, session.row["listener_id"])
    track = offered.passage.track_id
    log.log(session.casebook, listener, replace(word, track_id=track, trial_id=offered.row_id, stimulus=stimulus))


COMMANDS = {"listen": listen}
