"""The desk's pages without a server: for the operator alone, and silent about plans that are open."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from unittest import mock

import pytest
from starlette.routing import Mount, Route
from starlette.testclient import TestClient

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Listener
from sessions.casebook.store import Casebook, open_casebook
from sessions.listening import session
from sessions.pages import desk_deeds
from sessions.pages.joining import Guests
from sessions.pages.room import Room
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.plan_rows import Wish
from sessions.words import log
from tests.answered_plans import OF_MANY, PAIR, SETUPS, WISHES, answer_all
from tests.pages import ELSEWHERE, HERE, browser, desk, office_of, silent_house

ONE, TWO = b"1" * 32, b"2" * 32  # secrets: all keys follow from them
NOT_THE_DESKS = ("/desk/join",)  # by which anybody who has its code comes in
CROSSCHECK = "/desk/crosscheck?first=sallow&second=bracken"
QUERIES = {
    "/desk/plan": "name=evening",
    "/desk/plan/seal.svg": "name=evening",
    "/desk/passages/wave.svg": "name=drums 1",
    "/desk/results/picture.svg": "name=evening&number=0",
    "/desk/crosscheck": "first=sallow&second=bracken",
    "/desk/crosscheck/picture.svg": "first=sallow&second=bracken",
    "/desk/curves/together": "first=sallow&second=bracken",
    "/desk/curves/together.svg": "first=sallow&second=bracken&what=response",
    "/desk/curves/figure.svg": "setup=sallow&what=response",
}


def routes(client: TestClient) -> list[Route]:
    found = [one for one in client.app.routes if not isinstance(one, Mount)]  # type: ignore[attr-defined]
    return [one for one in found if one.path.startswith("/desk") and one.path not in NOT_THE_DESKS]


def reads(client: TestClient) -> list[str]:
    paths = [one.path for one in routes(client) if "GET" in one.methods]
    assert len(paths) > 12
    return [f"{path}?{QUERIES[path]}" if path in QUERIES else path for path in paths]


def writes(client: TestClient) -> list[str]:
    paths = [one.path for one in routes(client) if "POST" in one.methods]
    assert len(paths) > 12
    return paths


# -- whose it is -------------------------------------------------------------------------------------------------------


def test_a_listeners_token_opens_nothing_of_the_desk_and_a_stranger_finds_the_door(sealed: Casebook) -> None:
    sealed.close()
    room = Room(silent_house(sealed.folder), Guests())
    client = browser(room, office=office_of(room), client=HERE)
    for token, status in ((False, 401), (True, 403)):
        if token:
            assert client.post("/join", json={"code": room.guests.code}).status_code == 200
        for path in reads(client):
            found = client.get(path)
            assert (path, found.status_code) == (path, status)
            assert "sallow" not in found.text
        for path in writes(client):
            assert (path, client.post(path, json={"name": "evening"}).status_code) == (path, status)
    assert "desk_door.js" in client.get("/desk").text
    assert client.app.state.office.works.now() is None  # type: ignore[attr-defined]


def test_nothing_is_changed_by_reading_nor_by_pages_of_others(sealed: Casebook) -> None:
    sealed.close()
    with desk(sealed.folder) as client:
        for path in writes(client):
            assert client.get(path).status_code == 405
            assert client.post(path, json={}, headers={"origin": "http://evil.example"}).status_code == 403
            assert client.post(path, content="name=evening", headers={"content-type": "text/plain"}).status_code == 415
            if path != "/desk/work/stop":
                assert client.post(path, json=["junk"]).status_code in (400, 200)
    with open_casebook(sealed.folder) as casebook:
        assert plan_rows.draft_names(casebook) == []


def test_folders_of_this_machine_are_named_on_it_alone(casebook: Casebook, rendered: Path) -> None:
    casebook.close()
    both = {"folder_a": str(rendered / "sallow"), "folder_b": str(rendered / "bracken")}
    with desk(casebook.folder, ELSEWHERE) as client:
        refused = client.post("/desk/work/compare", json=both | {"method": "abx", "listener": "Ada", "trials": 5})
        assert (refused.status_code, refused.json()["message"]) == (403, desk_deeds.NOT_THERE)
        assert client.get("/desk/work").json() == {"work": None}


def test_long_work_is_not_begun_while_somebody_listens(sealed: Casebook) -> None:
    sealed.close()
    with desk(sealed.folder) as client:
        room: Room = client.app.state.room  # type: ignore[attr-defined]
        with mock.patch.object(room, "is_listened", return_value=True):
            refused = client.post("/desk/work/match", json={})
        assert (refused.status_code, refused.json()["message"]) == (422, desk_deeds.NOT_NOW)


# -- what it says of open plans ----------------------------------------------------------------------------------------

VARIES = re.compile(
    r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d[.\d]*Z?)?"  # when
    r"|\b[0-9a-f]{64}\b"  # the seal
)


def said(folder: Path) -> dict[str, str]:
    """All that the desk says of a casebook, by what was asked; moments and seals left out."""
    with desk(folder) as client:
        found = {path: client.get(path) for path in reads(client) if path != "/desk/code.svg"}
        pictures = ("/desk/plan/seal.svg", "/desk/curves/figure.svg")  # of a seal; none is measured here
        texts = {path: VARIES.sub("", one.text) for path, one in found.items() if not path.startswith(pictures)}
        refused = client.get("/desk/results/report.html").json()["message"]
    assert "the report waits until all sealed plans are over" in refused or "no report is written" in refused
    return texts


def answered(folder: Path, secret: bytes, hears: float, most: int = 10_000) -> Path:
    """A casebook with its draft sealed, answered as by who hears it so often, and with words of three trials."""
    with open_casebook(folder) as book:
        with mock.patch("secrets.token_bytes", return_value=secret):
            method = seals.seal(book, "evening", anyway=True).plan.method
        answer_all(book, hears, most=most)
        for row in book.query("SELECT id FROM trials ORDER BY seq LIMIT 3"):
            said_of = log.Word("bright", 3, trial_id=row["id"], stimulus=method.stimuli[-1])
            log.log(book, catalogue.find(book, Listener, "Ada"), said_of)
    return folder


@pytest.mark.parametrize("method", WISHES)
def test_the_desk_says_the_same_whatever_the_keys_and_the_answers_of_an_open_plan_are(
    book: Casebook, method: str, tmp_path: Path
) -> None:
    """Two casebooks that differ in all keys and in all that was answered: every response is the same to the byte."""
    wish = {"setups": SETUPS if method in OF_MANY else PAIR, "listeners": ("Ada",)} | WISHES[method]
    drafting.draft(book, Wish(method, **wish), "evening")
    book.close()
    other = shutil.copytree(book.folder, tmp_path / "other" / "book")
    one = said(answered(book.folder, ONE, 1.0, most=3))
    two = said(answered(Path(other), TWO, 0.0, most=3))
    folders = str(book.folder), str(other)
    assert {path: text.replace(folders[0], "") for path, text in one.items()} == {
        path: text.replace(folders[1], "") for path, text in two.items()
    }
    assert "bright" not in one[CROSSCHECK]
    assert "3 of" in one["/desk/plan?name=evening"] + one["/desk"]


def test_once_the_plan_is_over_they_differ_in_what_came_of_it(book: Casebook, tmp_path: Path) -> None:
    """What compares two casebooks would have found it."""
    drafting.draft(book, Wish("abx", PAIR, listeners=("Ada",), trials=10), "evening")
    book.close()
    other = shutil.copytree(book.folder, tmp_path / "other" / "book")
    one = said(answered(book.folder, ONE, 1.0))
    two = said(answered(Path(other), ONE, 0.0))
    assert "a difference was HEARD" in one["/desk/results"]
    assert "10 of 10" in one["/desk/results"]
    assert "HEARD" not in two["/desk/results"]
    assert "bright" in one[CROSSCHECK]
    assert one["/desk/results/picture.svg?name=evening&number=0"].startswith("<svg")
    with desk(book.folder) as client:
        assert client.post("/desk/work/report", json={}).status_code == 200
        client.app.state.office.works.wait()  # type: ignore[attr-defined]
        assert client.get("/desk/work").json()["work"]["go"] == "/desk/results"
        report = client.get("/desk/results/report.html")
    assert report.headers["content-disposition"].startswith("attachment")
    assert "HEARD" in report.text


def test_a_fault_of_the_sound_is_told_with_its_trial_and_nothing_of_what_played(sealed: Casebook) -> None:
    with session.begin(sealed, "evening", "Ada", "a device") as running:
        offered = running.next_trial()
        assert offered is not None
        running.fault(offered, "underrun", 2, f"while {offered.key} played")
    sealed.close()
    with desk(sealed.folder) as client:
        [evening] = client.get("/desk/now").json()["evenings"]
    assert [VARIES.sub("", one) for one in evening["faults"]] == ["trial 1: underrun, 2 times (); it is offered again"]


# -- what is made at the desk -----------------------------------------------------------------------------------------


def test_a_draft_is_made_in_the_builder_and_shown_with_what_it_lacks(book: Casebook) -> None:
    book.close()
    asked = {"method": "triangle", "setups": ["sallow", "bracken"], "listeners": [], "more_listeners": ["Ada"]}
    with desk(book.folder) as client:
        offered = client.get("/desk/plan/new").text
        assert all(f'value="{name}"' in offered for name in (*SETUPS, *WISHES))
        foreseen = client.post("/desk/plan/foresee", json=asked).json()
        assert foreseen["trials"] == 16
        assert client.post("/desk/plan/draft", json=asked).json() == {"go": "/desk/plan?name=triangle-1"}
        assert foreseen["sentences"][1] in client.get("/desk/plan?name=triangle-1").text
        assert client.post("/desk/plan/draft", json=asked | {"setups": ["sallow"]}).status_code == 422
        assert "evening" in client.get("/desk/plan?name=evening").text  # there is none: it says so, on a page


def test_what_people_type_stays_text(casebook: Casebook) -> None:
    typed = "<b>&\"'"
    catalogue.add_setup(casebook, "third", typed)
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=8, question=typed), "evening")
    casebook.close()
    with desk(casebook.folder) as client:
        for path in ("/desk/setups", "/desk/plan?name=evening"):
            text = client.get(path).text
            assert "<b>" not in text
            assert "&lt;b&gt;&amp;&#34;&#39;" in text
        assert "<b>" not in client.get("/desk/plan", params={"name": typed}).text
