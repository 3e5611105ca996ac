"""The chair's screen on a casebook with nothing played, in a terminal: `python -m tests.silent_evening BOOK PLAN`.

What is asked for is heard at once, so that the screen shows what it would with sound.
"""

from __future__ import annotations

import sys
from pathlib import Path

import click

from sessions.casebook.store import open_casebook
from sessions.commands import chair_screen, listen
from sessions.listening import session
from sessions.listening.trial_runner import TrialRunner
from tests.fakes import SilentPlayer


def main(book: Path, plan: str) -> None:
    """Listen to a plan as Ada."""
    with open_casebook(book) as casebook, session.begin(casebook, plan, "Ada", "none: silent") as running:
        casebook.set_busy_timeout(listen.BUSY_TIMEOUT_MS)
        runner = TrialRunner(running, SilentPlayer())
        runner.offer()
        finished = chair_screen.run(runner, "an evening", lambda *word: runner.keep(lambda: None))
        listen.when_free(runner.write_out)
        click.echo("finished" if finished else "stopped")


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
