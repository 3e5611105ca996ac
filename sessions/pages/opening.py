"""Pages are opened and closed: one program at a time for a casebook, a port, codes that end with it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from socket import socket
from typing import TYPE_CHECKING

from ..chair.sitting_down import House
from ..desk.office import Office
from ..desk.works import Works
from ..errors import ListenError
from ..listening import browser_playback, session_lock
from . import addresses, kept_guests, server
from .app import create_app
from .room import Room

if TYPE_CHECKING:
    from starlette.applications import Starlette


LOCK = "pages"


@dataclass(frozen=True)
class Opened:
    """Pages that are open: their address on this machine, and the one by which listeners find them."""

    room: Room
    app: Starlette
    door: socket
    here: str
    address: str


@contextmanager
def opened(
    house: House, devices: Sequence[str | None], only: str | None = None, *, lan: bool, port: int, scheme: str = "http"
) -> Iterator[Opened]:
    """The pages of a casebook, ready to be served; when they are closed every chair is left and no token counts.

    Raises
    ------
    ListenError
        If another program has its pages open, or the port is taken.
    """
    with ExitStack() as open_things:
        held = session_lock.lock(house.folder, LOCK, "the pages of this casebook")
        open_things.callback(held.release)
        door = open_things.enter_context(server.listening(addresses.EVERYWHERE if lan else addresses.LOOPBACK, port))
        taken = int(door.getsockname()[1])
        here = f"{scheme}://{addresses.LOOPBACK}:{taken}"
        found = addresses.of_this_machine() if lan else []
        address = f"{scheme}://{found[0]}:{taken}" if found else here
        room = Room(house, kept_guests.found(house.folder, house.monotonic()), devices, only)
        room.guests.address = here
        kept_guests.keep(house.folder, room.guests)
        open_things.callback(kept_guests.forget, house.folder)
        open_things.callback(room.close)
        works = Works(house.folder)
        open_things.callback(works.close)
        own = browser_playback.check if house.own_sound else lambda plan: None
        office = Office(house.folder, works, devices[0] if devices else None, house.own_sound, own, house.seconds)
        app = create_app(room, addresses.hosts(taken, lan=lan), address, scheme=scheme, office=office)
        yield Opened(room, app, door, here, address)


def are_open(folder: Path) -> bool:
    """Whether a program has the pages of a casebook open now."""
    try:
        session_lock.lock(folder, LOCK, "").release()
    except ListenError:
        return True
    return False
