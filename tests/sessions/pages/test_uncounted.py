"""What never counts, without a server: to whom it is offered, what it tells to whom, and what comes of it twice."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from starlette.testclient import TestClient

from sessions.casebook.store import Casebook, open_casebook
from sessions.pages import kept_guests
from sessions.pages.joining import Claim, Guests
from sessions.pages.room import HERE_S, Room
from sessions.plans import drafting
from sessions.plans.plan_rows import Wish
from tests.pages import browser, open_house, silent_house

PAIR = ["sallow", "bracken"]


@pytest.fixture
def room(sealed: Casebook) -> Iterator[Room]:
    sealed.close()
    made = Room(open_house(sealed.folder), Guests(), [None, None])
    yield made
    made.close()


def guest_of(room: Room) -> TestClient:
    client = browser(room)
    assert client.post("/join", json={"code": room.guests.code}).status_code == 200
    return client


def sits(client: TestClient, doing: str, plan: str = "", about: list[str] | None = None, listener: str = "Ada") -> Any:
    wish = {"plan": plan, "listener": listener, "doing": doing, "about": about or [], "instead": True}
    return client.post("/chair/sit", json=wish)


def listens(client: TestClient, listener: str = "Ada") -> dict[str, Any]:
    assert sits(client, "free", about=PAIR, listener=listener).status_code == 200
    end = time.monotonic() + 20
    while (found := client.get("/chair/now").json())["asking"] != "hear":
        assert time.monotonic() < end, found
        time.sleep(0.01)
    return dict(found)


def pressed(client: TestClient, trial: str, do: str, label: str = "") -> Any:
    return client.post("/chair/press", json={"trial": trial, "do": do, "label": label}).json()


def worded(client: TestClient, trial: str, nonce: str, line: str = "boomy", stimulus: str = "bracken") -> Any:
    body = {"trial": trial, "nonce": nonce, "line": line, "stimulus": stimulus, "track_ms": 700}
    return client.post("/chair/word", json=body)


def test_a_word_that_comes_twice_or_to_the_next_evening_is_kept_once_and_taken_back_once(room: Room) -> None:
    client = guest_of(room)
    trial = listens(client)["view"]["trial_id"]
    for _ in range(2):
        assert worded(client, trial, "one").json()["said"]["result"] == "kept"
    assert client.post("/chair/rise", json={}).json()["asking"] == "who"
    listens(client)  # the program was killed, for one, and nothing is known of the page's own numbers
    found = worded(client, trial, "one").json()
    assert found["said"]["result"] == "kept"
    assert [one["id"] for one in found["view"]["words"]] == [""]  # of another evening: not to be taken back here
    [word] = worded(client, trial, "two", "airy 2 (the bow)", "sallow").json()["view"]["words"][:1]
    assert (word["term"], word["strength"], word["setup"]) == ("airy", 2, "sallow")
    for _ in range(2):
        assert pressed(client, trial, "take back", word["id"])["said"]["result"] == "kept"
    assert worded(client, "no such music", "three").status_code == 409
    assert worded(client, trial, "four", stimulus="sallow-late").status_code == 422
    with open_casebook(room.house.folder) as casebook:
        kept = casebook.query("SELECT term FROM words ORDER BY seq")
    assert [one["term"] for one in kept] == ["boomy", "airy", ""]


def test_nobody_reads_or_says_words_of_somebody_elses_evening(room: Room) -> None:
    ada, grace = guest_of(room), guest_of(room)
    trial = listens(ada)["view"]["trial_id"]
    worded(ada, trial, "one")
    assert worded(grace, trial, "two").status_code == 422  # she sits nowhere
    assert grace.get("/chair/now").json()["view"] is None
    assert grace.get("/chair/words").json() == []
    refused = sits(grace, "free", about=PAIR)
    assert refused.status_code == 422
    assert "another page" in refused.json()["message"]
    stranger = browser(room)
    for path in ("/chair/evening", "/chair/exercises"):
        assert stranger.get(path).status_code == 401


def test_an_evening_whose_page_is_lost_goes_on_at_another(room: Room) -> None:
    lost, found = guest_of(room), guest_of(room)
    trial = listens(lost)["view"]["trial_id"]
    worded(lost, trial, "one", "a  bit   boomy")
    for one in room.guests.inside.values():
        one.seen -= HERE_S if one.claim else 0
    [word] = listens(found)["view"]["words"]
    assert pressed(found, trial, "take back", word["id"])["said"]["message"] == "taken back: a bit boomy"
    assert lost.get("/chair/now").status_code == 401


def test_where_free_listening_is_not_offered_no_setup_is_named(sealed: Casebook) -> None:
    sealed.close()
    room = Room(silent_house(sealed.folder), Guests())
    client = guest_of(room)
    asked = [client.get("/chair/evening"), client.get("/chair/exercises")]
    asked += [
        sits(client, "free", about=PAIR),
        sits(client, "practice", "evening"),
        sits(client, "training", "evening"),
    ]
    for found in asked:
        assert found.status_code == 422
        assert "not offered" in found.json()["message"]
    room.close()


@pytest.mark.parametrize(
    ("about", "listener", "why"),
    [(["sallow"], "Ada", "2 to 8"), (["sallow", "nobody"], "Ada", "nobody"), (PAIR, "<b>", "listener's name")],
)
def test_what_no_evening_can_be_of_is_said_before_anybody_sits(
    room: Room, about: list[str], listener: str, why: str
) -> None:
    client = guest_of(room)
    refused = sits(client, "free", about=about, listener=listener)
    assert refused.status_code == 422
    assert why in refused.json()["message"]
    assert client.get("/chair/now").json()["asking"] == "who"


def test_practice_is_for_who_is_awaited_and_goes_before_the_test_at_the_same_page(room: Room) -> None:
    client = guest_of(room)
    assert sits(client, "practice", "evening", listener="Grace").status_code == 422
    at = sits(client, "practice", "evening").json()
    assert (at["doing"], at["asked"]["begins_anew"]) == ("practice", True)
    assert "practice, never counted" in at["asked"]["title"]
    assert client.post("/chair/rise", json={}).status_code == 200
    at = sits(client, "plan", "evening").json()
    assert (at["doing"], at["asked"]["title"], at["asked"]["run"]) == ("plan", "evening", "")
    assert client.post("/chair/rise", json={}).status_code == 422  # a test that counts is left by leaving


def test_the_desk_sees_who_listens_freely_and_frees_the_chair(room: Room) -> None:
    listens(guest_of(room))
    row = next(one for one in room.at_desk() if one.plan == "free listening")
    assert (row.listener, row.asking, row.connected) == ("Ada", "hear", True)
    seat = room.free(Claim(row.plan, row.listener))
    assert seat is not None
    seat.close()
    assert [one.plan for one in room.at_desk()] == ["evening"]


def test_a_page_finds_its_evening_again_after_the_program_was_killed(room: Room) -> None:
    listens(guest_of(room))
    found = kept_guests.found(room.house.folder, 0.0)
    assert [one.claim for one in found.inside.values()] == [Claim("", "Ada", "free", ("sallow", "bracken"))]


@pytest.mark.parametrize(
    ("plan", "listener", "about", "why"),
    [
        ("evening", "Ada", ["wobble"], "no exercise"),
        ("evening", "Grace", ["hiss"], "no listener of plan"),
        ("evening", "Ada", ["hiss", "flutes"], "plays no passage"),
        ("later", "Ada", ["hiss"], "not trained for here"),
    ],
)
def test_what_cannot_be_trained_is_said_before_anybody_sits(
    sealed: Casebook, plan: str, listener: str, about: list[str], why: str
) -> None:
    """A draft is trained for where setups may be named, too."""
    drafting.draft(sealed, Wish("abx", ("sallow", "bracken"), listeners=("Ada",), trials=8), "later")
    sealed.close()
    house = replace(open_house(sealed.folder), offers=frozenset({"training"}))
    room = Room(house, Guests())
    client = guest_of(room)
    assert [one["plan"] for one in client.get("/chair/exercises").json()["plans"]] == ["evening"]
    refused = sits(client, "training", plan, about, listener)
    assert refused.status_code == 422
    assert why in refused.json()["message"]
    room.close()
    opened = Room(open_house(sealed.folder), Guests())
    plans = guest_of(opened).get("/chair/exercises").json()["plans"]
    assert [one["plan"] for one in plans] == ["evening", "later"]
    opened.close()
