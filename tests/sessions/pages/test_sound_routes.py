"""A page that plays by itself, without a browser: which files it gets, and what it may tell."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from audio.browser_sound import BrowserSound
from audio.files import wav_bytes
from sessions.casebook.store import Casebook, open_casebook
from sessions.pages.joining import Guests
from sessions.pages.room import Room
from tests.pages import BASE, browser, own_sound_house

OUTPUT = {"rate_hz": 44100, "channels": 2, "device": "headphones", "base_latency_s": 0.02, "output_latency_s": 0.0}


@pytest.fixture
def folder(sealed: Casebook) -> Path:
    sealed.close()
    return sealed.folder


@pytest.fixture
def room(folder: Path) -> Iterator[Room]:
    made = Room(own_sound_house(folder), Guests(), [None] * 2)
    yield made
    made.close()


@pytest.fixture
def listener(room: Room) -> TestClient:
    made = browser(room)
    assert made.post("/join", json={"code": room.guests.code}).status_code == 200
    return made


def until(client: TestClient, asking: str) -> dict[str, Any]:
    end = time.monotonic() + 20
    while time.monotonic() < end:
        found = client.get("/chair/now").json()
        if found["asking"] == asking:
            return dict(found)
        time.sleep(0.01)
    raise AssertionError(f"{found} is not {asking}")


def begun(client: TestClient, output: dict[str, Any] | None) -> None:
    sat = client.post("/chair/sit", json={"plan": "evening", "listener": "Ada", "output": output})
    assert sat.status_code == 200, sat.text
    assert sat.json()["own_sound"] is True
    client.post("/chair/press", json={"trial": "", "do": "begin"})


def readings(client: TestClient, trial: dict[str, Any]) -> list[dict[str, Any]]:
    """What a browser reads that changes nothing."""
    bodies = [client.get(f"/chair/sounds/{name}").content for name in trial["names"]]
    assert len({len(body) for body in bodies}) == 1
    assert len(set(bodies)) == len(bodies)
    sounds = [BrowserSound(trial["rate_hz"], trial["frames"], trial["channels"], body) for body in bodies]
    assert len(bodies[0]) == wav_bytes.HEADER_BYTES + 3 * trial["channels"] * trial["frames"]
    return [asdict(sound.reading()) for sound in sounds]


def test_a_page_gets_the_sounds_of_its_trial_and_tells_what_was_heard(listener: TestClient, folder: Path) -> None:
    begun(listener, OUTPUT)
    view = until(listener, "hear")["view"]
    trial = listener.get("/chair/sounds").json()
    assert view["sound"] == trial["names"][0]
    told = {"trial": trial["number"], "stimulus": 2, "frame": 4410, "playing": True, "auditions": [[2, 0, 4410]]}
    too_early = listener.post("/chair/sound/told", json=told)
    assert (too_early.status_code, "not given" in too_early.text) == (422, True)
    dull = [one | {"crc32": 0, "slope_power": [0.0, 0.0]} for one in readings(listener, trial)]
    refused = listener.post("/chair/sound/read", json={"trial": trial["number"], "readings": dull})
    assert (refused.status_code, "its treble is" in refused.text) == (422, True)
    read = listener.post("/chair/sound/read", json={"trial": trial["number"], "readings": readings(listener, trial)})
    assert read.status_code == 200
    for _ in range(2):  # the answer to the first was lost
        assert listener.post("/chair/sound/told", json=told).json()["view"]["heard"] == ["X"]
    given = {"trial": view["trial_id"], "nonce": "one", "sureness": 2, "choice": "A"}
    assert listener.post("/chair/answer", json=given).json()["said"]["result"] == "kept"
    listener.post("/chair/leave", json={})
    with open_casebook(folder) as casebook:
        assert casebook.query("SELECT device FROM sessions") == [
            {"device": "the listener's browser (headphones), 44100 Hz, 20 ms behind"}
        ]
        assert len(casebook.query("SELECT * FROM auditions")) == 1


def test_the_files_of_a_trial_are_no_one_elses_and_end_with_it(listener: TestClient, room: Room) -> None:
    begun(listener, OUTPUT)
    until(listener, "hear")
    [name, *_] = listener.get("/chair/sounds").json()["names"]
    stranger = TestClient(listener.app, base_url=BASE, headers={"origin": BASE})
    assert stranger.get(f"/chair/sounds/{name}").status_code == 401
    stranger.post("/join", json={"code": room.guests.code})
    assert stranger.get(f"/chair/sounds/{name}").status_code == 422  # nobody sits there
    assert listener.get("/chair/sounds/..%2fcasebook.db").status_code == 404
    trial = listener.get("/chair/sounds").json()
    listener.post("/chair/sound/read", json={"trial": trial["number"], "readings": readings(listener, trial)})
    fault = {"trial": trial["number"], "stimulus": -1, "frame": 0, "playing": False, "stalls": 1, "trouble": "a step"}
    listener.post("/chair/sound/told", json=fault)
    end = time.monotonic() + 20
    while time.monotonic() < end:
        at = until(listener, "hear")["view"]
        if at["sound"] != name:
            break
    assert at["trial_id"] == "1-2"
    assert "(1 stall)" in at["said"][0]
    assert listener.get(f"/chair/sounds/{name}").status_code == 404


def test_a_page_that_starts_its_sound_late_is_waited_for(listener: TestClient, folder: Path) -> None:
    begun(listener, None)
    waits = until(listener, "device")
    assert "has not started its sound" in waits["view"]["said"][0]
    listener.post("/chair/sound/output", json=OUTPUT)
    until(listener, "hear")
    assert listener.get("/chair/sounds").json()["rate_hz"] == 44100
    listener.post("/chair/sound/output", json=OUTPUT | {"rate_hz": 48000})  # the page was loaded again elsewhere
    end = time.monotonic() + 20
    while (trial := listener.get("/chair/sounds").json()) is None or trial["rate_hz"] != 48000:
        assert time.monotonic() < end
    assert until(listener, "hear")["view"]["trial_id"] == "1-1"  # the same trial, with the same key
    listener.post("/chair/leave", json={})
    with open_casebook(folder) as casebook:
        notes = [row["note"] for row in casebook.query("SELECT note FROM session_marks WHERE what = 'resumed'")]
    assert [note.split(", ")[1] for note in notes] == ["44100 Hz", "48000 Hz"]


def test_numbers_that_cannot_be_are_refused_in_one_line_and_the_seat_stays(listener: TestClient, folder: Path) -> None:
    begun(listener, OUTPUT)
    view = until(listener, "hear")["view"]
    trial = listener.get("/chair/sounds").json()
    listener.post("/chair/sound/read", json={"trial": trial["number"], "readings": readings(listener, trial)})
    told = {"trial": trial["number"], "stimulus": 2, "frame": 1, "playing": True}
    word = {"trial": view["trial_id"], "nonce": "w", "line": "boomy 3", "stimulus": "X", "track_ms": 100}
    refused = [
        ("/chair/word", word | {"track_ms": 10**20}),
        ("/chair/word", word | {"track_ms": 10**18}),
        ("/chair/word", word | {"track_ms": 10**8}),  # a day, of a track of some seconds
        ("/chair/word", word | {"track_ms": -1}),
        ("/chair/sound/told", told | {"underruns": 10**20}),
        ("/chair/sound/told", told | {"auditions": [[2, 10**25, -(10**25)]]}),
        ("/chair/sound/output", OUTPUT | {"base_latency_s": 1e308}),
        ("/chair/sound/output", OUTPUT | {"output_latency_s": -1.0}),
        ("/chair/sound/output", OUTPUT | {"rate_hz": 10**9}),
        ("/chair/sit", {"plan": "evening", "listener": "Ada", "output": OUTPUT | {"base_latency_s": 1e308}}),
        ("/chair/press", {"trial": view["trial_id"], "do": "hear", "label": "X", "track_ms": 10**30}),
    ]
    for path, body in refused:
        sent = listener.post(path, json=body)
        assert (sent.status_code, path, body) == (422, path, body), sent.text
        said = sent.json().get("message") or sent.json()["said"]["message"]
        assert said
        assert "\n" not in said
    assert until(listener, "hear")["view"]["sound"] == view["sound"]  # the trial goes on as it was
    assert listener.post("/chair/word", json=word).json()["said"]["result"] == "kept"
    with open_casebook(folder) as casebook:
        assert casebook.query("SELECT track_ms FROM words") == [{"track_ms": 100}]
        assert casebook.query("SELECT * FROM faults") == []


def test_what_is_nested_without_end_is_told_that_it_is_not_known(room: Room) -> None:
    sent = browser(room).post("/join", content='{"a":' * 3000, headers={"content-type": "application/json"})
    assert (sent.status_code, "not known here" in sent.json()["message"]) == (400, True)
