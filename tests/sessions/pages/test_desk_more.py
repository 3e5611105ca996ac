"""What the desk does for gear, second secrets and plans that are ended, and its pages of words, curves and doses."""

from __future__ import annotations

import json
from dataclasses import replace
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from sessions.casebook import catalogue, playback_chain, recordings
from sessions.casebook.catalogue import Listener, Setup, Track
from sessions.casebook.store import Casebook, open_casebook
from sessions.listening import exposure, session
from sessions.measured import curve_import
from sessions.measured.conditions import Conditions
from sessions.measured.curve_import import Reading
from sessions.pages import desk_deeds
from sessions.pages.joining import Claim, Guests
from sessions.pages.room import Room
from sessions.plans import drafting, plan_rows, seals, second_hand
from sessions.plans.plan_rows import Wish
from sessions.words import log
from tests.answered_plans import PAIR, answer_all, sealed_plan
from tests.pages import ELSEWHERE, browser, desk, office_of, silent_house

SECRET = "heather barrow tinder moss"
FREQS = (100, 1000, 10_000)


def told(client: TestClient, path: str, **body: object) -> str:
    """What is said to somebody who is refused."""
    refused = client.post(path, json=body)
    assert refused.status_code in (403, 422)
    return str(refused.json()["message"])


# -- a plan is ended --------------------------------------------------------------------------------------------------


def test_a_plan_is_closed_at_the_desk_once_that_is_agreed_to_with_a_reason(book: Casebook) -> None:
    sealed_plan(book, method="abx", trials=8)
    answer_all(book, 1.0, most=3)
    book.close()
    with desk(book.folder) as client:
        page = client.get("/desk/plan?name=evening").text
        assert "Ada: 3 of 8 trials answered" in page
        why = told(client, "/desk/plan/close", name="evening", why=" ", sure=True)
        assert "fill in “Why, for the record”" in why
        assert "closed for good" in told(client, "/desk/plan/close", name="evening", why="a storm")
        lost = told(client, "/desk/plan/close", name="evening", why="a storm", sure=True, lost=True)
        assert "is here, so that it can be closed and told" in lost
        assert "HEARD" not in client.get("/desk/results").text
        done = client.post("/desk/plan/close", json={"name": "evening", "why": "a storm", "sure": True})
        assert done.json() == {"go": "/desk/plan?name=evening"}
        page = client.get("/desk/plan?name=evening").text
        assert "End of the record so far" in page
        assert "See the result" in page
        assert "Close this plan" not in page
        assert "It was stopped too early to say anything" in client.get("/desk/results").text
        assert "is over already" in told(client, "/desk/plan/close", name="evening", why="again", sure=True)


def test_a_plan_in_which_somebody_sits_is_not_closed(sealed: Casebook) -> None:
    sealed.close()
    room = Room(silent_house(sealed.folder), Guests())
    client = browser(room, office=office_of(room))
    client.post("/desk/join", json={"code": room.guests.desk_code})
    guest = room.guests.of(room.join("listener", room.guests.code, "here"), "listener")
    assert guest is not None
    seat = room.sit(guest, Claim("evening", "Ada"))
    assert seat is not None
    seat.opened.result(20)
    assert "Ada sits in a chair" in told(client, "/desk/plan/close", name="evening", why="a storm", sure=True)
    room.close()
    with open_casebook(sealed.folder) as casebook:
        assert plan_rows.opening(casebook, seals.sealed_plan(casebook, "evening").plan.id) is None


# -- second secrets ---------------------------------------------------------------------------------------------------


def test_a_second_secret_is_given_at_the_desk_kept_in_no_file_and_asked_for_again(book: Casebook) -> None:
    drafting.draft(book, Wish("abx", PAIR, listeners=("Ada",), trials=8), "evening")
    book.close()
    seal = {"name": "evening", "elsewhere": True, "held": True, "second": SECRET, "again": SECRET}
    with desk(book.folder, ELSEWHERE) as client:
        assert told(client, "/desk/plan/seal", **seal) == desk_deeds.SECRET_HERE
    with desk(book.folder) as client:
        assert "typed otherwise" in told(client, "/desk/plan/seal", **seal | {"again": "heather barrow tinder moor"})
        assert "give at least 20" in told(client, "/desk/plan/seal", **seal | {"second": "moss", "again": "moss"})
        assert client.post("/desk/plan/seal", json=seal).status_code == 200
        assert "The second secret of evening" in client.get("/desk/plan?name=evening").text
        assert "not the second secret" in told(client, "/desk/plan/second", name="evening", second="heather")
        room: Room = client.app.state.room  # type: ignore[attr-defined]
        office = client.app.state.office  # type: ignore[attr-defined]
        assert client.post("/desk/plan/second", json={"name": "evening", "second": SECRET}).status_code == 200
        assert "Its second secret is typed" in client.get("/desk/plan?name=evening").text
        room.house = replace(room.house, ask_second=lambda sealed: office.seconds[sealed.plan.id])
        guest = room.guests.of(room.join("listener", room.guests.code, "here"), "listener")
        assert guest is not None
        seat = room.sit(guest, Claim("evening", "Ada"))
        assert seat is not None
        seat.opened.result(20)  # the session is begun with it
        room.stand_up(guest)
        seat.close()
        close = {"name": "evening", "why": "a storm", "sure": True}
        assert "they type it here" in told(client, "/desk/plan/close", **close)
        assert "not the second secret" in told(client, "/desk/plan/close", **close, second="heather barrow")
        kept = [path for path in book.folder.rglob("*") if path.is_file()]
        spelled = (SECRET.encode(), second_hand.normalised(SECRET).encode())
        assert not [path for path in kept if any(one in path.read_bytes() for one in spelled)]
        assert client.post("/desk/plan/close", json=close | {"second": SECRET}).status_code == 200
        assert "It was stopped too early to say anything" in client.get("/desk/results").text


def test_a_plan_whose_second_secret_is_lost_is_given_up_unopened(book: Casebook) -> None:
    drafting.draft(book, Wish("abx", PAIR, listeners=("Ada",), trials=8), "evening")
    seals.seal(book, "evening", ask_second=lambda: second_hand.chosen(SECRET))
    book.close()
    with desk(book.folder) as client:
        given_up = {"name": "evening", "why": "the paper burned", "sure": True, "lost": True}
        assert client.post("/desk/plan/close", json=given_up).status_code == 200
        page = client.get("/desk/plan?name=evening").text
        assert "given up" in page
        assert "See the result" not in page
        assert "Open the chair page" not in page
        assert "Close this plan" not in page
        assert "Given up unopened: evening" in client.get("/desk/results").text


def test_the_pages_of_a_casebook_and_its_chairs_share_the_secrets_that_were_typed(sealed: Casebook) -> None:
    from sessions.pages.opening import opened

    sealed.close()
    house = silent_house(sealed.folder)
    with opened(house, [None], lan=False, port=0) as pages:
        assert pages.app.state.office.seconds is house.seconds


# -- gear in the room -------------------------------------------------------------------------------------------------


def test_gear_is_matched_by_readings_typed_at_the_desk_with_their_uncertainty(routed: Casebook) -> None:
    routed.close()
    volts = {"sallow": "2.500", "bracken": "2.000"}
    readings = [f"{name}@{hz}={read}" for name, read in volts.items() for hz in FREQS]
    with desk(routed.folder) as client:
        page = client.get("/desk/match").text
        assert "match mic --mic DEVICE:1 --setup sallow --setup bracken" in page
        assert "nothing shorted" in page
        assert 'data-key="sallow@10000"' in page
        lacks = told(client, "/desk/match/trims", readings=readings[:-1])
        assert lacks == "bracken lacks the reading at 10000 Hz; read every chain at every frequency"
        assert "'loud' is no voltage" in told(client, "/desk/match/trims", readings=["sallow@100=loud"])
        said = client.post("/desk/match/trims", json={"readings": readings}).json()["said"]
        assert "sallow -1.94 dB, bracken +0.00 dB" in said  # 20 lg (2.0 / 2.5)
        assert "earwitness itself plays sallow 1.94 dB lower" in said
        assert "leave every amplifier and volume as it is" in said  # else the trim would be there twice
        assert "Set them" not in said
        works = client.app.state.office.works  # type: ignore[attr-defined]
        client.post("/desk/work/volts", json={"readings": readings, "afters": ["bracken=2.000"]})
        works.wait()
        found = client.get("/desk/work").json()["work"]
        assert (
            found["state"],
            "with sallow's trim, read it and fill in “Volts, the tone with its trim”" in found["line"],
        ) == (
            "failed",
            True,
        )
        client.post("/desk/work/volts", json={"readings": readings, "afters": ["sallow=2.001", "bracken=2.000"]})
        works.wait()
        assert client.get("/desk/work").json()["work"]["state"] == "done"
        evidence = client.get("/desk/evidence").text
    # 20 lg (2.001 / 2.000); twice the standard uncertainty of two last digits, half of one each
    assert "0.004 dB left (± 0.004), within the tolerance of 0.1 dB" in evidence
    assert ">before, dB re 1 V</th>" in evidence
    assert ">7.96</td>" in evidence  # 20 lg 2.5


def test_gear_beside_recordings_is_matched_alone_and_the_recordings_keep_their_buttons(casebook: Casebook) -> None:
    for name, route in (("larch", "box:1,2"), ("sorrel", "box:3,4")):
        catalogue.add_setup(casebook, name, "", playback_chain.routed(route))
    track, *_ = catalogue.everything(casebook, Track)
    music = recordings.of_track(casebook, track)[0]
    path = recordings.audio_path(casebook, music)
    readings = [f"{name}@{hz}={volts}" for name, volts in (("larch", 2.5), ("sorrel", 2.0)) for hz in FREQS]
    casebook.close()
    with desk(casebook.folder) as client:
        assert "add music: earwitness track music" in told(client, "/desk/match/trims", readings=readings)
        assert f"lacks {track.name}; add the music it plays: earwitness track add" in client.get("/desk/setups").text
        with open_casebook(casebook.folder) as again:
            recordings.keep(again, recordings.new_music(again, track, path), None, track, path)
        said = client.post("/desk/match/trims", json={"readings": readings}).json()["said"]
        assert said.startswith("The trims: larch -1.94 dB, sorrel +0.00 dB.")
        client.post("/desk/work/volts", json={"readings": readings, "afters": ["larch=2.000", "sorrel=2.000"]})
        works = client.app.state.office.works  # type: ignore[attr-defined]
        works.wait()
        assert client.get("/desk/work").json()["work"]["state"] == "done"
        page = client.get("/desk/passages").text
        body = json.loads(unescape(page.partition('data-post="/desk/work/match" data-body=\'')[2].partition("'")[0]))
        assert body["setups"] == ["sallow", "bracken"]
        assert "in a terminal" not in page
        client.post("/desk/work/match", json=body)
        works.wait()
        assert client.get("/desk/work").json()["work"]["state"] == "done"


def test_recordings_are_matched_elsewhere_and_the_page_of_gear_says_so(casebook: Casebook) -> None:
    casebook.close()
    with desk(casebook.folder) as client:
        assert "recordings are matched under" in client.get("/desk/match").text
        assert "recordings" in told(client, "/desk/match/trims", readings=["sallow@100=2.000"])


# -- words, curves, doses ---------------------------------------------------------------------------------------------


@pytest.fixture
def measured(casebook: Casebook, tmp_path: Path) -> Casebook:
    """Two setups of which the first has 6 dB more around 5 kHz, and was called bright; sighted words."""
    hz = np.geomspace(20, 20_000, 400)
    for setup in catalogue.everything(casebook, Setup):
        rise = 6 * np.exp(-((np.log2(hz / 5000) / 0.3) ** 2)) if setup.name == "sallow" else 0 * hz
        path = tmp_path / f"{setup.name}.txt"
        path.write_text("\n".join(f"{one:.3f} {level:.3f}" for one, level in zip(hz, rise + 80, strict=True)))
        curve_import.bring(casebook, setup, path, Reading("db"), Conditions())
    ada = catalogue.add_listener(casebook, "Ada")
    sallow = catalogue.find(casebook, Setup, "sallow")
    log.log(casebook, ada, log.Word("bright", 4, setup_id=sallow.id))
    return casebook


def test_words_stand_beside_curves_and_two_curves_on_one_set_of_axes(measured: Casebook) -> None:
    measured.close()
    two = "first=sallow&second=bracken"
    with desk(measured.folder) as client:
        page = client.get(f"/desk/crosscheck?{two}").text
        assert "<td>bright</td>" in page
        assert "said" in page.partition("<td>bright</td>")[2].partition("</tr>")[0]
        assert client.get(f"/desk/crosscheck/picture.svg?{two}").text.lstrip().startswith("<")
        page = client.get(f"/desk/curves/together?{two}").text
        assert "At one level over 300 to 3000 Hz" in page
        for what in ("response", "difference"):
            assert "</svg>" in client.get(f"/desk/curves/together.svg?{two}&what={what}").text
        assert "are one setup" in client.get("/desk/crosscheck?first=sallow&second=sallow").text
        assert "nowhere" in client.get("/desk/curves/together?first=nowhere&second=sallow").text
        assert client.get(f"/desk/curves/together.svg?{two}&what=score").status_code == 422


def test_the_dose_of_each_listener_is_told_and_how_a_level_comes_to_be_known(sealed: Casebook) -> None:
    with session.begin(sealed, "evening", "Ada", "a device") as running:
        ada = catalogue.find(sealed, Listener, "Ada")
        exposure.keep(sealed, ada.id, running.record.id, 7200.0, 91.0)
    catalogue.add_listener(sealed, "Grace")
    sealed.close()
    with desk(sealed.folder) as client:
        page = " ".join(client.get("/desk/dose").text.split())
    # NIOSH: 2 h at 91 dBA is a whole day's; H.870: 40 h / 10^1.1 and 40 h / 10^1.6 a week
    for number in ("100.0 %", "62.9 %", "199.1 %", "2:00:00", "91.0 dBA"):
        assert f'<td class="number">{number}</td>' in page
    assert "stop for today" in page
    assert "Nothing was heard here at a known level by Grace." in page
    assert "level calibrate --mic DEVICE:1" in page
