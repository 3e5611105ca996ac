"""The pages without a server: who may ask what, and what is said to them."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from sessions.casebook import playback_chain
from sessions.casebook.store import Casebook, open_casebook
from sessions.errors import ListenError
from sessions.pages.app import create_app
from sessions.pages.joining import Claim, Guests
from sessions.pages.room import FREED, Room
from sessions.pages.seat import AWAY_S
from sessions.plans import drafting, seals
from sessions.plans.plan import Plan
from sessions.plans.plan_rows import Wish
from tests.answered_plans import sealed_plan
from tests.pages import BASE, HOST, browser, silent_house

LISTENERS = ("Ada", "Grace")


@pytest.fixture
def folder(sealed: Casebook) -> Path:
    sealed.close()
    return sealed.folder


@pytest.fixture
def room(folder: Path) -> Iterator[Room]:
    made = Room(silent_house(folder), Guests())
    yield made
    made.close()


@pytest.fixture
def stranger(room: Room) -> TestClient:
    """A browser that did not come in; it sends the Origin of our own page, as browsers do."""
    return browser(room)


@pytest.fixture
def listener(stranger: TestClient, room: Room) -> TestClient:
    assert stranger.post("/join", json={"code": room.guests.code}).status_code == 200
    return stranger


def another(listener: TestClient) -> TestClient:
    return TestClient(listener.app, base_url=BASE, headers={"origin": BASE})


def sits(client: TestClient, listener: str = "Ada") -> dict[str, Any]:
    found = client.post("/chair/sit", json={"plan": "evening", "listener": listener})
    assert found.status_code == 200, found.text
    return dict(found.json())


def now(client: TestClient) -> dict[str, Any]:
    return dict(client.get("/chair/now").json())


def until(client: TestClient, asking: str) -> dict[str, Any]:
    end = time.monotonic() + 20
    while time.monotonic() < end:
        found = now(client)
        if found["asking"] == asking:
            return found
        time.sleep(0.01)
    raise AssertionError(f"{now(client)} is not {asking}")


def press(client: TestClient, do: str, label: str = "", trial: str = "") -> Any:
    return client.post(
        "/chair/press", json={"trial": trial or now(client)["view"]["trial_id"], "do": do, "label": label}
    )


def answered(client: TestClient, trial: str, nonce: str, choice: str = "A") -> Any:
    body = {"trial": trial, "nonce": nonce, "sureness": 2, "choice": choice}
    return client.post("/chair/answer", json=body)


def begun(client: TestClient) -> str:
    sits(client)
    press(client, "begin", trial="none yet")
    return str(until(client, "hear")["view"]["trial_id"])


# -- a session --------------------------------------------------------------------------------------------------------


def test_a_whole_session_by_a_browser_that_says_everything_twice(listener: TestClient, folder: Path) -> None:
    assert [one["waits"]["listener"] for one in listener.get("/chair/who").json()] == ["Ada"]
    trial, seen = begun(listener), []
    while now(listener)["asking"] == "hear":
        seen.append(trial)
        assert press(listener, "hear", "X").status_code == 200
        assert answered(listener, trial, f"nonce {trial}").status_code == 200
        again = answered(listener, trial, f"nonce {trial}")
        assert again.json()["said"]["result"] == "kept"
        while (at := now(listener))["asking"] == "coming":
            time.sleep(0.005)
        trial = at["view"]["trial_id"]
    assert seen == [f"{number}-1" for number in range(1, 9)]
    assert now(listener)["asking"] == "end"
    assert answered(listener, "8-1", "nonce 8-1").json()["said"]["result"] == "kept"  # nobody sits there any more
    assert answered(listener, "8-1", "other", "B").status_code == 409
    with open_casebook(folder) as casebook:
        assert casebook.query("SELECT count(*) AS n FROM answers")[0]["n"] == 8
    assert listener.post("/chair/leave", json={}).status_code == 200
    assert listener.get("/chair/now").status_code == 401


def test_an_answer_said_again_while_the_chair_is_being_left_is_answered_the_same(
    listener: TestClient, room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    trial = begun(listener)
    seat = room.seat_at(Claim("evening", "Ada"))
    press(listener, "hear", "X")
    assert answered(listener, trial, "once").status_code == 200
    assert seat is not None
    seat.close()
    monkeypatch.setattr(room, "seat_at", lambda claim: seat)  # as it is found just before the room lets go of it
    assert answered(listener, trial, "once").json()["said"]["result"] == "kept"


def test_leaving_in_the_middle_keeps_the_trial_for_whoever_comes_back(listener: TestClient, room: Room) -> None:
    trial = begun(listener)
    listener.post("/chair/leave", json={})
    phone = another(listener)
    assert phone.post("/join", json={"code": room.guests.code}).status_code == 200
    assert sits(phone)["asking"] == "question"
    press(phone, "begin", trial="none yet")
    assert until(phone, "hear")["view"]["trial_id"] == trial


def test_music_pauses_when_the_page_was_not_heard_of_for_long(folder: Path) -> None:
    now = [0.0]
    room = Room(replace(silent_house(folder), monotonic=lambda: now[0]), Guests())
    client = browser(room)
    client.post("/join", json={"code": room.guests.code})
    try:
        begun(client)
        press(client, "hear", "X")
        seat = room.seat_at(Claim("evening", "Ada"))
        assert seat is not None
        for away, paused in ((AWAY_S - 1, False), (2, True)):
            now[0] += away
            for _ in range(3):  # it looks after that some twenty times a second
                seat.ask(lambda chair: None).result()
            assert seat.view is not None
            assert seat.view.paused is paused
    finally:
        room.close()


def test_a_lost_page_is_taken_over_by_who_says_so_and_one_that_is_there_is_not(folder: Path) -> None:
    now = [0.0]
    room = Room(replace(silent_house(folder), monotonic=lambda: now[0]), Guests())
    lost = browser(room)
    phone = another(lost)
    for client in (lost, phone):
        client.post("/join", json={"code": room.guests.code})
    wish = {"plan": "evening", "listener": "Ada", "instead": True}
    try:
        trial = begun(lost)
        assert phone.post("/chair/sit", json=wish).status_code == 422
        now[0] += 21
        [offered] = phone.get("/chair/who").json()
        assert (offered["taken"], offered["connected"]) == (True, False)
        assert phone.post("/chair/sit", json=wish | {"instead": False}).status_code == 422
        assert phone.post("/chair/sit", json=wish).json()["view"]["trial_id"] == trial
        assert lost.get("/chair/now").status_code == 401
        assert press(phone, "hear", "X").status_code == 200
    finally:
        room.close()


def test_a_chair_that_is_left_answers_nobody_and_keeps_nobody_waiting(listener: TestClient, room: Room) -> None:
    begun(listener)
    seat = room.seat_at(Claim("evening", "Ada"))
    assert seat is not None
    seat.close()
    with pytest.raises(ListenError, match="this chair is empty"):
        seat.ask(lambda chair: None).result(timeout=5)


def test_one_chair_seats_one_and_the_next_in_line_gets_it(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("abx", ("sallow", "bracken"), listeners=LISTENERS, trials=8), "evening")
    seals.seal(casebook, "evening")
    casebook.close()
    room = Room(silent_house(casebook.folder), Guests())
    ada = browser(room)
    grace = another(ada)
    for client in (ada, grace):
        client.post("/join", json={"code": room.guests.code})
    try:
        sits(ada)
        assert sits(grace, "Grace") | {"message": ""} == {
            "asking": "line", "plan": "evening", "listener": "Grace", "before": 0, "asked": None, "view": None,
            "message": "", "own_sound": False, "doing": "plan", "about": [], "offers": [],
        }  # fmt: skip
        refused = another(ada)
        refused.post("/join", json={"code": room.guests.code})
        taken = refused.post("/chair/sit", json={"plan": "evening", "listener": "Ada"})
        assert taken.status_code == 422
        assert "sits at another page already" in taken.json()["message"]
        ada.post("/chair/leave", json={})
        assert until(grace, "question")["listener"] == "Grace"
    finally:
        room.close()


def test_words_are_offered_from_the_ballot_and_then_from_the_lexicon(book: Casebook) -> None:
    sealed_plan(book, method="words", trials=6, words=("plush", "boomy"))
    book.close()
    room = Room(silent_house(book.folder), Guests())
    client = browser(room)
    client.post("/join", json={"code": room.guests.code})
    try:
        assert client.get("/chair/words").json() == []
        sits(client)
        offered = client.get("/chair/words").json()
    finally:
        room.close()
    assert offered[:2] == ["plush", "boomy"]
    assert "bright" in offered
    assert len(set(offered)) == len(offered)


# -- who may ask what -------------------------------------------------------------------------------------------------

LISTENS = ["/chair/who", "/chair/now", "/chair/words"]
LISTENS_POST = ["/chair/sit", "/chair/press", "/chair/answer", "/chair/word", "/chair/leave"]
DESKS = ["/desk/now", "/desk/code.svg", "/assist/now"]


@pytest.mark.parametrize("path", [*LISTENS, *DESKS])
def test_nothing_is_read_without_a_token(stranger: TestClient, path: str) -> None:
    assert stranger.get(path).status_code == 401


@pytest.mark.parametrize("path", [*LISTENS_POST, "/desk/free", "/assist/done"])
def test_nothing_is_changed_without_a_token(stranger: TestClient, path: str) -> None:
    assert stranger.post(path, json={"plan": "evening", "listener": "Ada"}).status_code in (400, 401)


@pytest.mark.parametrize("path", [*LISTENS_POST, "/desk/free", "/join", "/desk/join", "/assist/join", "/assist/done"])
def test_no_reading_request_changes_anything(listener: TestClient, path: str) -> None:
    assert listener.get(path).status_code == 405


def test_a_listener_reads_no_desk_and_a_desk_sits_in_no_chair(listener: TestClient, room: Room) -> None:
    for path in DESKS:
        assert listener.get(path).status_code == (401 if path.startswith("/assist") else 403)
    assert listener.post("/desk/free", json={"plan": "evening", "listener": "Ada"}).status_code == 403
    assert listener.post("/desk/join", json={"code": room.guests.code}).status_code == 403
    desk = another(listener)
    assert desk.post("/desk/join", json={"code": room.guests.desk_code}).status_code == 200
    assert desk.get("/chair/now").status_code == 401
    [token] = [value for name, value in desk.cookies.items() if "desk" in name]
    forged = another(listener)
    forged.cookies.set("earwitness_listener_8421", token)
    assert forged.get("/chair/now").status_code == 401


def test_the_desk_says_how_far_everybody_is_and_frees_a_chair(listener: TestClient, room: Room) -> None:
    trial = begun(listener)
    press(listener, "hear", "X")
    answered(listener, trial, "one")
    desk = another(listener)
    desk.post("/desk/join", json={"code": room.guests.desk_code})
    found = desk.get("/desk/now").json()
    assert found["code"] == room.guests.code
    assert [set(one) for one in found["listeners"]] == [
        {"plan", "listener", "asking", "answered", "trials", "progress", "connected", "message"}
    ]
    assert found["listeners"][0]["answered"] == 1
    assert found["listeners"][0]["connected"] is True
    freed = desk.post("/desk/free", json={"plan": "evening", "listener": "Ada"})
    assert freed.json()["listeners"][0]["asking"] == ""
    out = listener.get("/chair/now")
    assert (out.status_code, out.json()["message"]) == (401, FREED)
    assert another(listener).get("/chair/now").json()["message"] == "join first"


def test_the_picture_at_the_desk_is_the_address_that_comes_in(listener: TestClient, room: Room) -> None:
    desk = another(listener)
    desk.post("/desk/join", json={"code": room.guests.desk_code})
    picture = desk.get("/desk/code.svg")
    assert picture.headers["content-type"].startswith("image/svg+xml")
    assert picture.content.startswith(b"<?xml")


def test_a_token_is_out_of_reach_of_scripts_and_of_other_sites(stranger: TestClient, room: Room) -> None:
    cookie = stranger.post("/join", json={"code": room.guests.code}).headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "samesite=strict" in cookie.lower()
    assert "secure" not in cookie.lower()
    tls = TestClient(create_app(room, [HOST], BASE, scheme="https"), base_url=f"https://{HOST}")
    by_tls = tls.post("/join", json={"code": room.guests.code}, headers={"origin": f"https://{HOST}"})
    assert "secure" in by_tls.headers["set-cookie"].lower()


def test_what_is_asked_often_is_refused_like_all_else_and_by_other_methods_not_at_all(listener: TestClient) -> None:
    assert listener.post("/chair/now", json={}).status_code == 405
    assert listener.get("/chair/answer").status_code == 405
    found = answered(listener, "1-1", "nonce")  # who sits nowhere gets a sentence
    assert (found.status_code, found.headers["content-type"]) == (422, "application/json")
    assert "sit down again" in found.json()["message"]


@pytest.mark.parametrize("host", ["evil.example:8421", "127.0.0.1", "127.0.0.1:80", "", "localhost.evil.example:8421"])
def test_a_name_that_is_not_ours_gets_nothing(listener: TestClient, host: str) -> None:
    for path in ("/", "/chair", "/chair/now", "/static/chair.js"):
        assert listener.get(path, headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "origin", [None, "null", "http://evil.example", f"https://{HOST}", f"http://{HOST}.evil.example"]
)
def test_pages_of_others_change_nothing(listener: TestClient, origin: str | None) -> None:
    del listener.headers["origin"]
    headers = {} if origin is None else {"origin": origin}
    for path in (*LISTENS_POST, "/join"):
        assert listener.post(path, json={"code": "x"}, headers=headers).status_code == 403


def test_a_form_of_another_site_is_not_read(listener: TestClient) -> None:
    said = listener.post("/chair/leave", content="{}", headers={"content-type": "text/plain"})
    assert said.status_code == 415
    assert listener.get("/chair/now").status_code == 200


def test_bodies_are_bounded_and_junk_is_refused_in_a_sentence(listener: TestClient) -> None:
    assert listener.post("/chair/sit", json={"plan": "x" * 20_000, "listener": "y"}).status_code == 413
    begun(listener)
    for junk in ("", "nonsense", "[]", '{"trial": 1}', '{"trial": "1-1", "do": "reveal"}', "\udcff"):
        content = junk.encode("utf-8", "surrogateescape")
        said = listener.post("/chair/press", content=content, headers={"content-type": "application/json"})
        assert said.status_code == 400
        assert "load it again" in said.json()["message"]


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static//etc/passwd",
        "/static/",
        "/templates/chair.html",
        "/static/%2e%2e%2f%2e%2e%2fcasebook.db",
    ],
)
def test_no_path_leads_out_of_the_pages(listener: TestClient, path: str) -> None:
    assert listener.get(path).status_code == 404


@pytest.mark.parametrize("path", ["/", "/chair", "/desk", "/static/chair.js", "/chair/now", "/nowhere"])
def test_every_response_says_what_a_browser_may_do_with_it(listener: TestClient, path: str) -> None:
    headers = listener.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "no-store"
    assert headers["referrer-policy"] == "no-referrer"


def test_guessing_the_code_is_slowed_down(stranger: TestClient, room: Room) -> None:
    said = [stranger.post("/join", json={"code": "wrong"}) for _ in range(7)]
    assert {one.status_code for one in said} == {403}
    assert "Wait a minute" in said[-1].json()["message"]
    assert stranger.post("/join", json={"code": room.guests.code}).status_code == 403


def test_the_assistant_alone_is_told_what_to_swap_and_says_when_it_is_done(listener: TestClient, room: Room) -> None:
    chain = playback_chain.switched("box:1,2", playback_chain.SwitchWish("assistant", "cables to left", hold_ms=3000))
    setup = {"setup": "a", "name": "a", "kind": playback_chain.SWITCHED, "chain": chain.to_document()}
    plan, said = Plan({"plan": "plan-swap", "name": "swap", "setups": [setup]}), list[bool]()
    listener.post("/desk/join", json={"code": room.guests.desk_code})  # the same browser at the desk, too
    assistant = another(listener)
    assistant.post("/assist/join", json={"code": room.guests.assistant_code})
    assert assistant.get("/assist/now").json() == []
    with room.house.assistants.line(plan, "Ada") as line:
        line.announce(3)
        asked = threading.Thread(target=lambda: said.append(line.ask(0, 20.0)))
        asked.start()
        while not (found := assistant.get("/assist/now").json()) or found[0]["order"] is None:
            time.sleep(0.005)
        [swap] = found
        assert (swap["listener"], swap["order"]["trial"], swap["order"]["say"]) == ("Ada", 3, "cables to left")
        done = {"plan": "swap", "listener": "Ada", "number": swap["order"]["number"]}
        assert listener.get("/assist/now").status_code == 401
        assert listener.post("/assist/done", json=done).status_code == 401
        assert assistant.post("/assist/done", json=done | {"number": 9}).status_code == 409
        assert assistant.post("/assist/done", json=done).status_code == 200
        asked.join(5)
        assert assistant.post("/assist/done", json=done).status_code == 409
    assert said == [True]
    assert assistant.get("/chair/now").status_code == 401
    assert assistant.get("/desk/now").status_code == 401


# -- what the pages are made of ---------------------------------------------------------------------------------------


def test_no_page_fetches_from_anywhere_else_or_holds_script_or_style_of_its_own() -> None:
    package = files("sessions.pages")
    for folder in ("templates", "static"):
        for path in (package / folder).iterdir():
            text = path.read_text()
            assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", text), path
            assert "innerHTML" not in text, path
            if path.name.endswith(".html"):
                assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\son\w+=|\sstyle=", text), path


def test_everybody_gets_the_same_page(listener: TestClient) -> None:
    assert listener.get("/chair").content == another(listener).get("/chair").content
