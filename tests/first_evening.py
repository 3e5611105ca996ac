"""The command line where every device is there and silent: `python -m tests.first_evening ARGUMENTS`.

What is asked for is heard at once, and a trial appears without the fixed wait that hides what was read for it.
"""

from __future__ import annotations

from functools import partial

from sessions.commands.main import main
from sessions.listening import players, trial_runner
from tests.fakes import SilentPlayer, at_once


class Silence(SilentPlayer):
    """A player that can be entered and left."""

    def __exit__(self, *exc: object) -> None:
        self.stop()


if __name__ == "__main__":
    players.rates_hz = lambda plan, device: frozenset(passage.rate_hz for passage in plan.passages)
    players.player_of = lambda plan, device, ask=None: Silence()
    trial_runner.TrialRunner = partial(trial_runner.TrialRunner, sleep=at_once)  # type: ignore[misc]
    main()
