"""The command line with the engine's process on a device without hardware: `python -m tests.free_evening ARGUMENTS`."""

from __future__ import annotations

from functools import partial

from audio.engine.playback_engine import EngineProcess
from audio.engine.player import Player
from sessions.commands.main import main
from sessions.listening import players

if __name__ == "__main__":
    players.taken_hz = lambda chains, device, wanted_hz: frozenset(wanted_hz)
    players.playing_on = lambda chain, device: device or "a device without hardware"
    players.player_on = lambda chains, device, ask=None, **how: Player(
        engine=partial(EngineProcess, "tests.virtual_device"), **how
    )
    main()
