"""What the desk says of what was typed, of who sealed, of long work that ended, and of who listens freely."""

from __future__ import annotations

from dataclasses import replace
from unittest import mock

import pytest
from starlette.testclient import TestClient

from sessions.casebook.store import Casebook
from sessions.desk import sealing
from sessions.desk.office import Office
from sessions.desk.works import OtherWork, Works
from sessions.pages.joining import Claim, Guests
from sessions.pages.room import Room
from sessions.plans import drafting, seals
from sessions.plans.plan_rows import Wish
from tests.answered_plans import PAIR, sealed_plan
from tests.pages import browser, desk, office_of, open_house, own_sound_house

ASKED = {"method": "abx", "setups": list(PAIR), "more_listeners": ["Ada"]}


@pytest.mark.parametrize(("operator", "by"), [("", ""), ("Ada", ""), ("Olive", " by Olive")])
def test_who_sealed_is_named_only_where_somebody_else_than_the_listeners_runs_the_test(
    book: Casebook, operator: str, by: str
) -> None:
    plan = sealed_plan(book, method="abx", trials=8, operator=operator)
    shown = sealing.shown(book, Office(book.folder, Works(book.folder)), plan.name)
    assert f"{shown.post.partition(':')[0][17:]}" == by


@pytest.mark.parametrize("trials", [6.5, "6.5", "many"])
def test_a_number_that_is_not_whole_is_answered_with_its_field_and_what_to_type(book: Casebook, trials: object) -> None:
    book.close()
    with desk(book.folder) as client:
        for path in ("/desk/plan/draft", "/desk/plan/foresee", "/desk/work/compare"):
            refused = client.post(path, json=ASKED | {"folder_a": "a", "folder_b": "b", "trials": trials})
            assert refused.status_code == 422
            assert refused.json()["message"] == (
                f"“Trials for each listener” takes a whole number, and {trials} was given; type one such as 16"
            )
        assert "load it again" in client.post("/desk/plan/draft", json={"method": ["abx"]}).json()["message"]
        assert '<label for="trials">Trials for each listener</label>' in client.get("/desk/compare").text
        assert '<label for="trials">Trials for each listener</label>' in client.get("/desk/plan/new").text


def test_a_number_that_nothing_could_mean_is_refused_as_any_other_out_of_range(book: Casebook) -> None:
    book.close()
    with desk(book.folder) as client:
        for trials in (5000, 10**20, 10**300):
            for path in ("/desk/plan/draft", "/desk/work/compare"):
                sent = ASKED | {"folder_a": "a", "folder_b": "b", "listener": "Ada", "trials": trials}
                answer = client.post(path, json=sent)
                client.app.state.office.works.wait()  # type: ignore[attr-defined]
                said = answer.json().get("message") or client.get("/desk/work").json()["work"]["line"]
                assert said == (
                    f"“Trials for each listener” {str(trials)[:60]}{'…' if trials > 10**60 else ''} is out of range; "
                    "give 1 to 1000 for each listener"
                )


def test_refusals_speak_of_the_fields_of_the_page(book: Casebook) -> None:
    book.close()
    refusals = [
        (ASKED | {"trials": 5000}, "“Trials for each listener” 5000 is out of range"),
        (ASKED | {"alpha": "7"}, "“The error rate accepted (alpha)” 7 is out of range"),
        (ASKED | {"effect": "2"}, "“The difference it is meant to find” 2 is out of range"),
        (ASKED | {"more_listeners": []}, "a plan names its listeners; fill in “Who listens”"),
        (ASKED | {"method": "words"}, "name them in “The words that can be ticked”"),
        (ASKED | {"trials": 16, "controls": 99}, "“Trials in which all is the same” 99 is out of range"),
    ]
    with desk(book.folder) as client:
        for asked, said in refusals:
            message = client.post("/desk/plan/draft", json=asked).json()["message"]
            assert said in message
            assert " --" not in f" {message}"
            assert "--" not in client.post("/desk/plan/foresee", json=asked).text


def test_a_command_that_is_to_be_typed_keeps_its_options(sealed: Casebook) -> None:
    sealed.close()
    with desk(sealed.folder) as client:
        told = client.post("/desk/plan/away", json={"name": "evening"}).json()["message"]
    assert told.endswith("it is closed: earwitness plan close evening --why TEXT")


def test_a_plan_that_is_not_there_is_told_in_the_desks_way(casebook: Casebook) -> None:
    folder = casebook.folder
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=8), "evening")
    with desk(folder) as client:
        page = client.get("/desk/plan?name=evning").text
        assert "no plan called &#39;evning&#39;; did you mean &#39;evening&#39;? There are: evening" in page
        assert client.post("/desk/plan/away", json={"name": "evening"}).status_code == 200
        page = client.get("/desk/plan?name=abx-1").text
        assert "no plan called &#39;abx-1&#39;; there are none yet; make one under “Plan a test”" in page
        refusals = [page]
        for path in ("seal", "phrase", "published", "close"):
            sent = {"name": "abx-1", "words": "w", "by": "a forum", "why": "w", "sure": True}
            wished = {"seal": ("name",), "phrase": ("name", "words"), "published": ("name", "by")}
            body = {key: value for key, value in sent.items() if key in wished.get(path, ("name", "why", "sure"))}
            refused = client.post(f"/desk/plan/{path}", json=body)
            assert refused.status_code == 422
            assert "abx-1" in refused.text
            refusals.append(refused.text)
    assert not [one for one in refusals if "earwitness plan" in one or " --" in one]
    casebook.close()


def failed(client: TestClient) -> int:
    nothing = {"folder_a": "", "folder_b": "", "method": "abx", "listener": "Ada", "trials": 8}
    assert client.post("/desk/work/compare", json=nothing).status_code == 200
    client.app.state.office.works.wait()  # type: ignore[attr-defined]
    found = client.get("/desk/work").json()["work"]
    assert (found["state"], found["place"]) == ("failed", "/desk/compare")
    return int(found["number"])


def test_work_that_ended_is_shown_where_it_belongs_and_put_away_for_good(casebook: Casebook) -> None:
    casebook.close()
    with desk(casebook.folder) as client:
        number = failed(client)
        seen = {
            at: client.get("/desk/work", params={"at": at}).json()["work"]
            for at in ("/desk", "/desk/compare", "/desk/words")
        }
        assert [at for at, work in seen.items() if work] == ["/desk", "/desk/compare"]
        watched = client.get("/desk/work", params={"at": "/desk/words", "saw": number}).json()["work"]
        assert watched["state"] == "failed"  # the page was open while it was under way
        assert client.get("/desk/work/away").status_code == 405
        assert client.post("/desk/work/away", json={"number": number - 1}).json()["work"]["number"] == number
        assert client.post("/desk/work/away", json={"number": number}).json() == {"work": None}
        assert client.get("/desk/work", params={"at": "/desk/compare"}).json() == {"work": None}
        assert failed(client) == number + 1  # nobody takes the next for the one before


def test_other_work_in_the_way_is_told_apart_from_refusals_since_it_passes(casebook: Casebook) -> None:
    casebook.close()
    with desk(casebook.folder) as client:
        works = client.app.state.office.works  # type: ignore[attr-defined]
        with mock.patch.object(works, "start", side_effect=OtherWork("Comparing is being done")):
            refused = client.post("/desk/work/suggest", json={})
        assert (refused.status_code, refused.json()["message"]) == (409, "Comparing is being done")


def test_who_listens_freely_or_trains_is_told_as_that_and_not_as_none_of_none(sealed: Casebook) -> None:
    sealed.close()
    room = Room(open_house(sealed.folder), Guests())
    guest = room.guests.of(room.join("listener", room.guests.code, "here"), "listener")
    assert guest is not None
    claims = (Claim("", "Ada", "free", PAIR), Claim("evening", "Ada", "practice"))
    told = []
    for claim in claims:
        seat = room.sit(guest, claim)
        assert seat is not None
        seat.opened.result(20)
        told += [one.progress for one in room.at_desk() if one.plan == claim.told]
        room.rise(guest)
        seat.close()
    room.close()
    assert told[0] == "listens freely; nothing counts"
    assert told[1].startswith("0 of ")
    assert told[1].endswith("practice, never counts")


def test_a_listener_of_a_plan_is_told_by_how_many_are_answered(sealed: Casebook) -> None:
    sealed.close()
    with desk(sealed.folder) as client:
        [one] = client.get("/desk/now").json()["listeners"]
    assert one["progress"] == f"0 of {one['trials']}"


def test_a_draft_is_taken_away_at_the_desk_and_a_sealed_plan_is_not(casebook: Casebook) -> None:
    for name in ("morning", "evening"):
        drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=8), name)
    seals.seal(casebook, "evening")
    casebook.close()
    with desk(casebook.folder) as client:
        assert 'data-post="/desk/plan/away"' in client.get("/desk/plan?name=morning").text
        assert 'data-post="/desk/plan/away"' not in client.get("/desk/plan?name=evening").text
        assert client.post("/desk/plan/away", json={"name": "morning"}).json() == {"go": "/desk"}
        assert client.post("/desk/plan/away", json={"name": "evening"}).status_code == 422
        page = client.get("/desk").text
    assert "/desk/plan?name=evening" in page
    assert "morning" not in page


def test_the_form_of_a_plan_says_each_choice_in_plain_words_and_the_difference_with_its_unit(
    casebook: Casebook,
) -> None:
    casebook.close()
    with desk(casebook.folder) as client:
        page = client.get("/desk/plan/new").text
    assert ">abx: is X the same as A or as B?<" in page
    assert ">same-different: are the two the same?<" in page
    assert ">sprt: as soon as it is clear that it is heard, or that it is not<" in page
    assert ">drop: it may be said, and such a trial is left out<" in page
    assert 'data-told="The share of the trials answered right' in page


def test_where_listeners_own_devices_play_no_level_and_no_remote_control_is_promised(sealed: Casebook) -> None:
    sealed.close()
    room = Room(own_sound_house(sealed.folder), Guests())
    client = browser(room, office=replace(office_of(room), own_sound=True))
    assert "This page plays the music itself" in client.get("/").text
    assert "remote control" not in client.get("/").text
    client.post("/desk/join", json={"code": room.guests.desk_code})
    page = client.get("/desk/dose").text
    assert "--dba" not in page
    assert "Nothing was heard here at a known level by Ada" in page
    room.close()
