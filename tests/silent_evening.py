"""The listening screen, silent: `python -m tests.silent_evening BOOK PLAN [STUMBLES | HOW]`.

What is asked for is heard at once, so that the screen shows what it would with sound; the first STUMBLES sounds are
disturbed, or HOW names another of `PLAYERS`.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import click
import numpy as np
from numpy.typing import NDArray

from audio.engine.playback import Faults, Position
from audio.errors import DeviceError
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Listener
from sessions.casebook.store import open_casebook
from sessions.chair import kept_words, next_trial
from sessions.commands import at_terminal, chair_screen
from sessions.listening import session
from sessions.listening.trial_runner import TrialRunner
from tests.fakes import SilentPlayer


class StumblingPlayer(SilentPlayer):
    """A player whose first sounds are each disturbed."""

    def __init__(self, stumbles: int) -> None:
        super().__init__()
        self.left = stumbles

    def load(self, stimuli: Sequence[NDArray[np.float32]], rate_hz: int, places: Sequence[int] = ()) -> None:
        super().load(stimuli, rate_hz, places)
        self.at = Position(None, 0, False)

    def play(self, index: int) -> None:
        super().play(index)
        if self.left:
            self.left -= 1
            self.counts = Faults(underruns=self.counts.underruns + 1)


class FailingPlayer(SilentPlayer):
    """A player that stumbles whenever it is asked, whether something sounds or not."""

    fails = True

    def faults(self) -> Faults:
        if self.fails:
            self.counts = Faults(underruns=self.counts.underruns + 1)
        return self.counts


class LostPlayer(SilentPlayer):
    """A player whose device is gone as soon as something is to sound, and stays gone."""

    def load(self, stimuli: Sequence[NDArray[np.float32]], rate_hz: int, places: Sequence[int] = ()) -> None:
        if self.counts.stalls:
            self.tries = getattr(self, "tries", 0) + 1
            raise DeviceError(f"no sound device to play on, try {self.tries}")
        super().load(stimuli, rate_hz, places)

    def play(self, index: int) -> None:
        super().play(index)
        self.counts = Faults(stalls=1)


class EarlyPlayer(SilentPlayer):
    """A player that stumbles once, before anything was asked for."""

    asked_after = 0

    def faults(self) -> Faults:
        self.asked_after += 1
        return Faults(underruns=int(self.asked_after > 3))


class LatePlayer(SilentPlayer):
    """A player that stumbles once, two seconds after something was asked for."""

    asked_at = 0.0

    def play(self, index: int) -> None:
        super().play(index)
        self.asked_at = self.asked_at or time.monotonic()

    def faults(self) -> Faults:
        late = self.asked_at > 0 and time.monotonic() - self.asked_at > 2
        return Faults(underruns=1) if late else self.counts


PLAYERS: dict[str, Callable[[], SilentPlayer]] = {
    "endless": FailingPlayer,
    "lost": LostPlayer,
    "early": EarlyPlayer,
    "late": LatePlayer,
}


def main(book: Path, plan: str, player: SilentPlayer) -> None:
    """Listen to a plan as Ada."""
    with open_casebook(book) as casebook, session.begin(casebook, plan, "Ada", "none: silent") as running:
        casebook.set_busy_timeout(at_terminal.BUSY_TIMEOUT_MS)
        runner = TrialRunner(running, player)
        runner.offer()
        next_trial.LOST_FOR_S = 6.0
        try:
            ada = catalogue.find(casebook, Listener, running.record.listener_id)
            finished = chair_screen.run(runner, "an evening", partial(kept_words.keep_word, runner, ada))
        except DeviceError as error:
            click.echo(f"ended: {error}")
            return
        at_terminal.when_free(runner.write_out)
        click.echo("finished" if finished else "stopped")


if __name__ == "__main__":
    how = (sys.argv[3:] or ["0"])[0]
    main(Path(sys.argv[1]), sys.argv[2], PLAYERS[how]() if how in PLAYERS else StumblingPlayer(int(how)))
