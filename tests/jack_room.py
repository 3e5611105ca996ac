"""The imaginary room behind a real sound server: a JACK client between loudspeakers and microphones.

PortAudio lists it as a device called ``room``. It runs in a process of its own, as this module's program.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path

from .jack import NICE, Server
from .room import Air, Room, Speaker


@contextmanager
def jack_room(server: Server, room: Room) -> Iterator[None]:
    """The room as a device of the server, until the block ends."""
    client = subprocess.Popen(
        [*NICE, sys.executable, "-m", "tests.jack_room", server.name, json.dumps(asdict(room))],
        cwd=Path(__file__).parent.parent,
        env=os.environ | server.environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert client.stdout is not None
    assert client.stdout.readline().strip() == "up"
    try:
        yield
    finally:
        client.communicate("stop\n", timeout=10)


def main() -> None:
    """Carry what is played to the microphones until a line comes in."""
    import jack
    import numpy as np

    planted = json.loads(sys.argv[2])
    room = Room(**planted | {"speakers": [Speaker(**speaker) for speaker in planted["speakers"]]})
    client = jack.Client("room", servername=sys.argv[1], no_start_server=True)
    speakers = [client.inports.register(f"speaker_{number + 1}") for number in range(len(room.speakers))]
    mics = [client.outports.register(f"mic_{number + 1}") for number in range(room.mics)]
    air = Air(room, client.samplerate)

    def work(frames: int) -> None:
        heard = air.carry(np.stack([port.get_array() for port in speakers], axis=1))
        for port, sound in zip(mics, heard.T, strict=True):
            port.get_array()[:] = sound

    client.set_process_callback(work)
    client.activate()
    sys.stdout.write("up\n")
    sys.stdout.flush()
    sys.stdin.readline()


if __name__ == "__main__":
    main()
