"""An answer that a page held while the host was gone, as the host finds it when it is back."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from sessions.casebook.store import Casebook, open_casebook
from sessions.chair.chair import Chair
from sessions.chair.sitting import Sitting
from sessions.listening import session
from sessions.pages.joining import Claim, Guests
from sessions.pages.room import Room
from tests.pages import browser, silent_house

HELD = {"trial": "1-1", "nonce": "n1", "sureness": 4, "choice": "A", "marks": {}}


def back(folder: Path, *, heard: bool, answered: int = 0) -> tuple[Room, TestClient]:
    """The host as it is started anew, after a trial was on offer; whoever listens sits down again."""
    with open_casebook(folder) as book, session.begin(book, "evening", "Ada", "a device") as running:
        for number in range(answered + 1):
            offered = running.next_trial()
            assert offered is not None
            if heard or number < answered:
                running.audition(offered, "X", 0, 48_000)
            if number < answered:
                running.answer(offered, "A", 2, 3000)
    room = Room(silent_house(folder), Guests())
    client = browser(room)
    assert client.post("/join", json={"code": room.guests.code}).status_code == 200
    assert client.post("/chair/sit", json={"plan": "evening", "listener": "Ada"}).json()["asking"] == "question"
    return room, client


def answers(folder: Path) -> list[tuple[object, ...]]:
    with open_casebook(folder) as book:
        found = book.query(
            "SELECT trial, answer, sureness, after_ms FROM answers JOIN trials ON trials.id = trial_id ORDER BY trial"
        )
    return [tuple(one.values()) for one in found]


def test_what_was_heard_before_the_host_was_gone_is_kept_at_once_and_once(sealed: Casebook) -> None:
    sealed.close()
    room, client = back(sealed.folder, heard=True)
    for _ in range(3):  # the page sends it until it is told that it is kept
        sent = client.post("/chair/answer", json=HELD)
        assert (sent.status_code, sent.json()["said"]["result"]) == (200, "kept")
    assert sent.json()["view"]["answered"] == 1
    assert client.post("/chair/answer", json=HELD | {"choice": "B", "nonce": "n2"}).status_code == 409
    room.close()
    [(trial, answer, sureness, after_ms)] = answers(sealed.folder)
    assert (trial, answer, sureness) == (1, "A", 4)
    assert 0 <= int(str(after_ms)) < 60_000  # since the trial was on offer, the time without a host among it


@pytest.mark.parametrize("change", [{}, {"trial": "2-1"}, {"trial": "1-2"}])
def test_what_is_not_on_record_as_heard_is_not_taken_before_it_is_heard(
    sealed: Casebook, change: dict[str, str]
) -> None:
    sealed.close()
    room, client = back(sealed.folder, heard=bool(change))
    sent = client.post("/chair/answer", json=HELD | change)
    assert sent.status_code in (503, 409)
    room.close()
    assert answers(sealed.folder) == []


def test_nonsense_is_refused_also_then(sealed: Casebook) -> None:
    sealed.close()
    room, client = back(sealed.folder, heard=True)
    assert client.post("/chair/answer", json=HELD | {"sureness": 9}).status_code == 422
    assert client.post("/chair/answer", json=HELD | {"choice": "C"}).status_code == 422
    room.close()
    assert answers(sealed.folder) == []


def test_the_last_answer_ends_the_session(sealed: Casebook) -> None:
    trials = 8
    sealed.close()
    room, client = back(sealed.folder, heard=True, answered=trials - 1)
    assert client.post("/chair/answer", json=HELD | {"trial": f"{trials}-1"}).status_code == 200
    for _ in range(100):
        at = client.get("/chair/now").json()
        if at["asking"] == "end":
            break
    assert (at["asking"], at["view"]["answered"]) == ("end", trials)
    room.close()
    assert len(answers(sealed.folder)) == trials


def test_a_full_disk_is_waited_for_and_nobody_is_told_where_the_casebook_lies(sealed: Casebook) -> None:
    sealed.close()
    room = Room(silent_house(sealed.folder), Guests())
    client = browser(room)
    client.post("/join", json={"code": room.guests.code})
    client.post("/chair/sit", json={"plan": "evening", "listener": "Ada"})
    client.post("/chair/press", json={"trial": "", "do": "begin"})
    until(client, "hear", "1-1")
    client.post("/chair/press", json={"trial": "1-1", "do": "hear", "label": "X"})
    seat = room.seat_at(Claim("evening", "Ada"))
    assert seat is not None

    def done(sql: str) -> None:
        def there(chair: Sitting) -> None:
            assert isinstance(chair, Chair)
            book = chair.runner.session.casebook
            with book.writing():
                book.db.conn.execute(sql)

        seat.ask(there).result()

    # as SQLite does on a full disk: the transaction is taken back, and these are its words
    done(
        "CREATE TEMP TRIGGER no_space BEFORE INSERT ON answers "
        "BEGIN SELECT RAISE(ROLLBACK, 'database or disk is full'); END"
    )
    said = []
    for _ in range(2):
        sent = client.post("/chair/answer", json=HELD)
        assert sent.status_code == 503
        said += [sent.text, client.get("/chair/now").text]
    assert "The host's disk is full" in said[1]
    assert str(sealed.folder) not in "".join(said)
    done("DROP TRIGGER no_space")
    until(client, "hear", "2-1")  # by itself
    assert client.post("/chair/answer", json=HELD).json()["said"]["result"] == "kept"
    room.close()
    assert [one[:3] for one in answers(sealed.folder)] == [(1, "A", 4)]


def until(client: TestClient, asking: str, trial: str) -> None:
    end = time.monotonic() + 20
    while (at := client.get("/chair/now").json())["asking"] != asking or at["view"]["trial_id"] != trial:
        assert time.monotonic() < end, at
        time.sleep(0.02)
