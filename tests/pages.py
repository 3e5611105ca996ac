"""The pages as tests open them: an app without a server, one on a port of this process, one in a process of its own."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path

from sessions.chair.sitting_down import House, browser_player
from sessions.pages import kept_guests, server
from sessions.pages.app import create_app
from sessions.pages.room import Room
from tests.fakes import RunningPlayer, at_once

LOOPBACK = "127.0.0.1"


def silent_house(folder: Path) -> House:
    """A casebook's chairs at players that play nothing, with no time waited."""
    return House(folder, open_player=lambda plan, device, ask: nullcontext(RunningPlayer()), sleep=at_once)


@dataclass(frozen=True)
class Open:
    """Pages that are open: their room, and where."""

    room: Room
    address: str

    @property
    def chair(self) -> str:
        """The address that comes in by itself."""
        return f"{self.address}/#{self.room.guests.code}"

    @property
    def desk(self) -> str:
        """The operator's."""
        return f"{self.address}/desk#{self.room.guests.desk_code}"


def own_sound_house(folder: Path) -> House:
    """A casebook's chairs whose pages play by themselves, with no time waited."""
    return House(folder, open_player=browser_player, sleep=at_once, own_sound=True)


@contextmanager
def served(folder: Path, chairs: int = 1, house_of: Callable[[Path], House] = silent_house) -> Iterator[Open]:
    """The pages of a casebook, served by a thread of this process."""
    import uvicorn

    door = server.listening(LOOPBACK, 0)
    port = door.getsockname()[1]
    house = house_of(folder)
    room = Room(house, kept_guests.found(folder, house.monotonic()), [None] * chairs)
    address = f"http://{LOOPBACK}:{port}"
    app = create_app(room, [f"{LOOPBACK}:{port}"], address)
    running = uvicorn.Server(uvicorn.Config(app, log_config=None, access_log=False, lifespan="off", ws="none"))
    thread = threading.Thread(target=lambda: running.run(sockets=[door]), daemon=True)
    thread.start()
    try:
        yield Open(room, address)
    finally:
        running.should_exit = True
        thread.join()
        room.close()
        kept_guests.forget(folder)
        door.close()


def main(arguments: Sequence[str]) -> None:
    """Serve a casebook's pages on a port until this process is killed."""
    folder, port = Path(arguments[0]), int(arguments[1])
    house = silent_house(folder)
    room = Room(house, kept_guests.found(folder, house.monotonic()))
    kept_guests.keep(folder, room.guests)
    door = server.listening(LOOPBACK, port)
    taken = door.getsockname()[1]
    print(taken, room.guests.code, flush=True)  # noqa: T201 - whoever started it reads where
    server.serve(create_app(room, [f"{LOOPBACK}:{taken}"], f"http://{LOOPBACK}:{taken}"), door)


if __name__ == "__main__":
    main(sys.argv[1:])
