"""A listener is told that something is wrong at the host, and the host what it is."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from audio.errors import AudioError, DeviceError, FileError
from sessions.casebook.store import FILE_NAME, LOCKS, Casebook
from sessions.chair.chair import Chair
from sessions.chair.for_listeners import HOST
from sessions.chair.sitting import Sitting
from sessions.chair.sitting_down import UNSAID
from sessions.listening.session import Session
from sessions.pages.joining import Claim, Guests
from sessions.pages.room import Room
from tests.fakes import RunningPlayer
from tests.pages import BASE, browser, silent_house

SIT = {"plan": "evening", "listener": "Ada"}
PORT = "the switch's serial port /dev/ttyUSB0 does not work: no such device; check --port"


@dataclass
class Evening:
    """Pages whose player fails as a test says, what their terminal was told, and the browsers of two people."""

    folder: Path
    told: list[str] = field(default_factory=list)
    absent: AudioError | None = None
    lost: DeviceError | None = None
    turned: list[Session] = field(default_factory=list)

    @contextmanager
    def open(self) -> Iterator[tuple[TestClient, TestClient]]:
        evening = self

        class Player(RunningPlayer):
            def load(self, *given: object, **named: object) -> None:
                if evening.lost:
                    raise evening.lost
                super().load(*given, **named)  # type: ignore[arg-type]

        def player(*_: object) -> AbstractContextManager[RunningPlayer]:
            if self.absent:
                raise self.absent
            return nullcontext(Player())

        house = replace(silent_house(self.folder), open_player=player, tell=self.told.append, turned=self.turned.append)
        room = Room(house, Guests())
        listener = browser(room)
        desk = TestClient(listener.app, base_url=BASE, headers={"origin": BASE})
        assert listener.post("/join", json={"code": room.guests.code}).status_code == 200
        assert desk.post("/desk/join", json={"code": room.guests.desk_code}).status_code == 200
        yield listener, desk
        room.close()


@pytest.fixture
def evening(sealed: Casebook) -> Evening:
    sealed.close()
    return Evening(sealed.folder)


def stands_at(desk: TestClient) -> str:
    [row] = desk.get("/desk/now").json()["listeners"]
    return str(row["message"])


def until(found: Callable[[], bool]) -> None:
    end = time.monotonic() + 20
    while not found():
        assert time.monotonic() < end
        time.sleep(0.02)


def test_a_casebook_that_is_gone_is_told_by_its_place_to_the_host_alone_and_once(evening: Evening) -> None:
    with evening.open() as (listener, _):
        (evening.folder / FILE_NAME).rename(evening.folder / "elsewhere")
        for _ in range(3):
            found = listener.get("/chair/who")
            assert (found.status_code, found.json()) == (422, {"message": HOST})
        (evening.folder / "elsewhere").rename(evening.folder / FILE_NAME)
    [told] = evening.told
    assert str(evening.folder) in told


def test_a_folder_that_cannot_be_written_is_not_named_to_whoever_comes_in(evening: Evening) -> None:
    with evening.open() as (listener, _):
        if (evening.folder / LOCKS).exists():
            (evening.folder / LOCKS).rename(evening.folder / "held")
        (evening.folder / LOCKS).write_text("no folder")
        found = listener.post("/join", json={"code": listener.app.state.room.guests.code})  # type: ignore[attr-defined]
        (evening.folder / LOCKS).unlink()
    assert found.json() == {"message": HOST}
    assert [str(evening.folder) in told for told in evening.told] == [True]


@pytest.mark.parametrize("error", [DeviceError(PORT), FileError("take1.wav: corrupt; fetch or export it again")])
def test_why_a_chair_cannot_be_opened_is_told_in_whole_at_the_desk_and_in_the_terminal(
    evening: Evening, error: AudioError
) -> None:
    evening.absent = error
    with evening.open() as (listener, desk):
        assert listener.post("/chair/sit", json=SIT).json() == {"message": HOST}
        assert listener.get("/chair/now").json()["message"] == HOST
        assert stands_at(desk) == str(error)
        evening.absent = None
        assert listener.post("/chair/sit", json=SIT).json()["asking"] == "question"
        assert stands_at(desk) == ""
    assert evening.told == [f"Ada (evening): {error}"]


def test_what_a_chair_waits_for_is_told_in_whole_to_the_host_alone_and_goes_once_it_is_there(evening: Evening) -> None:
    evening.lost = DeviceError(PORT)
    with evening.open() as (listener, desk):
        listener.post("/chair/sit", json=SIT)
        listener.post("/chair/press", json={"trial": "", "do": "begin"})
        until(lambda: stands_at(desk) == PORT)
        shown = listener.get("/chair/now")
        assert HOST in shown.json()["view"]["said"]
        assert "ttyUSB0" not in shown.text
        evening.lost = None
        until(lambda: listener.get("/chair/now").json()["asking"] == "hear")
        until(lambda: stands_at(desk) == "")
        assert HOST not in listener.get("/chair/now").text
    assert evening.told == [f"Ada (evening): {PORT}"]


def test_what_the_listener_is_told_in_whole_is_not_told_to_the_terminal_too(evening: Evening) -> None:
    evening.absent = DeviceError("the box is not there; switch it on")
    with evening.open() as (listener, desk):
        assert listener.post("/chair/sit", json=SIT).json() == {"message": str(evening.absent)}
        assert stands_at(desk) == str(evening.absent)
    assert evening.told == []


def test_leaving_on_a_full_disk_says_in_the_terminal_what_is_not_on_record_and_shows_the_end_of_it(
    evening: Evening,
) -> None:
    with evening.open() as (listener, _):
        listener.post("/chair/sit", json=SIT)
        room: Room = listener.app.state.room  # type: ignore[attr-defined]
        seat = room.seat_at(Claim("evening", "Ada"))
        assert seat is not None

        def full(chair: Sitting) -> None:
            assert isinstance(chair, Chair)
            book = chair.runner.session.casebook
            with book.writing():
                book.db.conn.execute(  # SQLite's own words, and the transaction is taken back, as on a full disk
                    "CREATE TEMP TRIGGER no_space BEFORE INSERT ON session_marks "
                    "BEGIN SELECT RAISE(ROLLBACK, 'database or disk is full'); END"
                )

        seat.ask(full).result()
        shown = len(evening.turned)
    [told] = evening.told
    assert told.startswith("Ada (evening): the disk of ")
    assert told.endswith(UNSAID)
    assert len(evening.turned) == shown + 1
