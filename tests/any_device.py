"""The command line where every device seems to be there until it is opened: `python -m tests.any_device ARGUMENTS`."""

from __future__ import annotations

from sessions.commands.main import main
from sessions.listening import players

if __name__ == "__main__":
    players.check_devices = lambda plan, device: None
    main()
