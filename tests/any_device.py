"""The command line where every device seems to be there until it is opened: `python -m tests.any_device ARGUMENTS`."""

from __future__ import annotations

from sessions.commands.main import main
from sessions.listening import players

if __name__ == "__main__":
    players.rates_hz = lambda plan, device: frozenset(passage.rate_hz for passage in plan.passages)
    main()
