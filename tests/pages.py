"""The pages as tests open them: an app without a server, one on a port of this process, one in a process of its own."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sessions.chair.sitting import Doing
from sessions.chair.sitting_down import House, browser_player
from sessions.pages import server
from sessions.pages.opening import opened
from sessions.pages.room import Room
from tests.fakes import RunningPlayer, at_once

if TYPE_CHECKING:
    from starlette.testclient import TestClient

    from sessions.desk.office import Office


HOST = "127.0.0.1:8421"
BASE = f"http://{HOST}"
HERE, ELSEWHERE = ("127.0.0.1", 50_000), ("192.168.1.30", 50_000)


def browser(
    room: Room, *, office: Office | None = None, client: tuple[str, int] = ("testclient", 50_000)
) -> TestClient:
    """A browser that did not come in; it sends the Origin of our own page, as browsers do."""
    from starlette.testclient import TestClient

    from sessions.pages.app import create_app

    app = create_app(room, [HOST], BASE, office=office)
    return TestClient(app, base_url=BASE, headers={"origin": BASE}, client=client)


def silent_house(folder: Path) -> House:
    """A casebook's chairs at players that play nothing, with no time waited."""
    return House(folder, open_player=lambda chains, device, ask: nullcontext(RunningPlayer()), sleep=at_once)


ALL: frozenset[Doing] = frozenset(("practice", "training", "free"))


def open_house(folder: Path) -> House:
    """The same, where practice, training and free listening are offered as well."""
    return replace(silent_house(folder), offers=ALL)


def office_of(room: Room) -> Office:
    """A desk whose long work is done in a thread of this process."""
    from sessions.desk.office import Office
    from sessions.desk.works import Works

    return Office(room.house.folder, Works(room.house.folder, apart=False))


@contextmanager
def desk(folder: Path, client: tuple[str, int] = HERE) -> Iterator[TestClient]:
    """The operator's browser, without a server."""
    from sessions.pages.joining import Guests

    room = Room(silent_house(folder), Guests(code="K7P-3QF"))
    found = browser(room, office=office_of(room), client=client)
    assert found.post("/desk/join", json={"code": room.guests.desk_code}).status_code == 200
    yield found
    found.app.state.office.works.close()  # type: ignore[attr-defined]
    room.close()


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

    @property
    def assistant(self) -> str:
        """Of who swaps setups."""
        return f"{self.address}/assist#{self.room.guests.assistant_code}"


def own_sound_house(folder: Path) -> House:
    """A casebook's chairs whose pages play by themselves, with no time waited."""
    return House(folder, open_player=browser_player, sleep=at_once, own_sound=True, offers=ALL)


@contextmanager
def served(folder: Path, chairs: int = 1, house_of: Callable[[Path], House] = silent_house) -> Iterator[Open]:
    """The pages of a casebook, served by a thread of this process."""
    with opened(house_of(folder), [None] * chairs, lan=False, port=0) as pages, server.beside(pages.app, pages.door):
        yield Open(pages.room, pages.here)


def main(arguments: Sequence[str]) -> None:
    """Serve a casebook's pages on a port until this process is killed."""
    folder, port = Path(arguments[0]), int(arguments[1])
    with opened(silent_house(folder), [None], lan=False, port=port) as pages:
        print(pages.door.getsockname()[1], pages.room.guests.code, flush=True)  # noqa: T201 - whoever started it reads
        server.serve(pages.app, pages.door)


if __name__ == "__main__":
    main(sys.argv[1:])
