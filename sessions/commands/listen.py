"""`listen`: a session in the terminal, with real playback."""

from __future__ import annotations

import sys

import click

from ..casebook import catalogue
from ..casebook.store import Casebook
from ..errors import ListenError
from ..trials.session import Offered, Session, begin
from ..words import log
from .context import Context, say


@click.command()
@click.argument("plan")
@click.option("--listener", required=True, help="Who listens; the plan must name them.")
@click.option("--device", help="The playback device, by name; otherwise the system's.")
@click.pass_obj
def listen(context: Context, plan: str, listener: str, device: str | None) -> None:
    """Work through a sealed plan at this terminal; stop with q, and take it up again with the same command."""
    with context.open() as casebook, _begun(casebook, plan, listener, device) as session:
        sit(session, device, context.hint)


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


def sit(session: Session, device: str | None, hint: str) -> bool:
    """Sit the listener down: player, screen, trials, until all are answered or they stop; True when all are."""
    from audio.engine.player import Player

    from ..trials.sitting import Sitting
    from . import screen

    finished = False
    try:
        with Player(device) as player:
            sitting = Sitting(session, player)

            def keep_word(term: str, strength: int, stimulus: str, track_ms: int) -> None:
                keep_blind_word(session, sitting.current, log.Word(term, strength, track_ms, True), stimulus)

            title = f"{session.plan.method.name} {session.plan.name}" + (
                " (REHEARSAL)" if session.row["rehearsal"] else ""
            )
            finished = screen.run(sitting, title, keep_word)
    finally:
        if not finished:
            session.mark("stopped")
    name = session.plan.name
    if finished:
        say(f"All {session.plan.trials} trials are answered. The result: {hint} verdict {name}")
    else:
        say(
            f"Stopped after {session.answered} of {session.plan.trials} trials; take it up again with the same command."
        )
    return finished


def keep_blind_word(session: Session, offered: Offered, word: log.Word, stimulus: str) -> None:
    """Keep a word said in a blind trial: it names the label heard, and no setup."""
    from dataclasses import replace

    listener = catalogue.find(session.casebook, "listeners", session.row["listener_id"])
    track = offered.passage["track"]
    log.log(session.casebook, listener, replace(word, track_id=track, trial_id=offered.row_id, stimulus=stimulus))


COMMANDS = {"listen": listen}
