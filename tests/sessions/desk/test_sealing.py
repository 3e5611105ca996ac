"""Sealing at the desk asks what the command asks."""

from __future__ import annotations

from pathlib import Path

import pytest

from audio.errors import DeviceError, NoDeviceError
from sessions.casebook.store import Casebook
from sessions.desk import sealing
from sessions.desk.office import Office
from sessions.desk.sealing import Acceptance, SealWish
from sessions.desk.works import Works
from sessions.errors import PlanError
from sessions.listening import players, session
from sessions.plans import drafting, plan_rows
from sessions.plans.plan_rows import Wish
from tests.answered_plans import PAIR, sealed_plan
from tests.pages import desk


@pytest.fixture
def office(casebook: Casebook) -> Office:
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=16), "evening")
    return Office(casebook.folder, Works(casebook.folder))


def takes(monkeypatch: pytest.MonkeyPatch, *rates_hz: int, error: Exception | None = None) -> None:
    def asked(plan: object, device: str | None) -> frozenset[int]:
        if error is not None:
            raise error
        return frozenset(rates_hz)

    monkeypatch.setattr(players, "rates_hz", asked)


def test_a_device_that_does_not_take_the_rate_is_refused_with_the_ways_out(
    casebook: Casebook, office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    takes(monkeypatch, 44_100)
    with pytest.raises(PlanError, match=r"the device does not play 48000 Hz .*prepare it again at 44100 Hz"):
        sealing.seal(casebook, office, SealWish("evening"))
    takes(monkeypatch, error=DeviceError("no device called 'box'"))
    with pytest.raises(PlanError, match="cannot be played here: no device called 'box'; or say"):
        sealing.seal(casebook, office, SealWish("evening"))
    assert plan_rows.sealed_names(casebook) == []
    assert sealing.seal(casebook, office, SealWish("evening", elsewhere=True)).plan.name == "evening"


def test_without_any_device_it_is_sealed_since_nobody_can_be_asked(
    casebook: Casebook, office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    takes(monkeypatch, error=NoDeviceError("none"))
    sealed = sealing.seal(casebook, office, SealWish("evening"))
    shown = sealing.shown(casebook, office, "evening")
    assert (shown.state, shown.seal, shown.is_draft) == ("sealed", sealed.seal, False)
    assert sealed.seal in shown.post


def test_a_plan_that_can_show_nothing_or_would_be_void_is_sealed_only_when_that_is_said(
    casebook: Casebook, office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    takes(monkeypatch, 48_000)
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=3), "vain")
    assert sealing.shown(casebook, office, "vain").vain == "it can show nothing"
    with pytest.raises(PlanError, match="CANNOT show it"):
        sealing.seal(casebook, office, SealWish("vain"))
    assert sealing.seal(casebook, office, SealWish("vain", anyway=True)).plan.name == "vain"


FOUR = ("bright", "boomy", "thin", "wide")


def test_a_plan_beside_which_words_cannot_hold_is_sealed_only_when_that_is_said(
    casebook: Casebook, office: Office
) -> None:
    """By hand: of four words all 8 trials give 4 · 2/2⁸ = 0.031, twice that 0.0625."""
    sealed_plan(casebook, "ballot", method="words", trials=8, words=FOUR)
    shown = sealing.shown(casebook, office, "evening")
    assert shown.vain == "words of others can no longer hold"
    told = " ".join(shown.lines)
    assert "Planned with “Not one of the review's primary questions” ticked it takes nothing from them" in told
    assert "--" not in told
    with desk(casebook.folder) as client:
        page = client.get("/desk/plan?name=evening").text
    assert "Seal it all the same, although words of others can no longer hold" in page
    with pytest.raises(PlanError, match=r"not sealed\. Once this plan is sealed too, no word of ballot can hold"):
        sealing.seal(casebook, office, SealWish("evening", elsewhere=True))
    assert plan_rows.sealed_names(casebook) == ["ballot"]
    sealing.seal(casebook, office, SealWish("evening", elsewhere=True, anyway=True))
    assert plan_rows.sealed_names(casebook) == ["ballot", "evening"]


def test_a_ballot_without_hope_beside_others_says_so_beside_its_tick(casebook: Casebook, office: Office) -> None:
    sealed_plan(casebook, "other", method="abx", trials=16)
    drafting.draft(casebook, Wish("words", PAIR, listeners=("Ada",), trials=8, words=FOUR), "ballot")
    assert sealing.shown(casebook, office, "ballot").vain == "none of its words can hold"
    with pytest.raises(PlanError, match="no word can hold, whatever is ticked"):
        sealing.seal(casebook, office, SealWish("ballot", elsewhere=True))


def test_words_in_vain_are_told_too_where_others_were_begun_before(casebook: Casebook, office: Office) -> None:
    sealed_plan(casebook, "first", method="triangle", trials=8)
    session.begin(casebook, "first", "Ada", "none: test").__exit__(None, None, None)
    sealed_plan(casebook, "ballot", method="words", trials=8, words=FOUR)
    told = " ".join(sealing.shown(casebook, office, "evening").lines)
    assert "holds among them only where first does" in told
    assert "no word of ballot can hold any more" in told


def test_a_giveaway_is_accepted_with_a_reason_only(casebook: Casebook, office: Office) -> None:
    with pytest.raises(PlanError, match="with its kind and a reason"):
        sealing.accept(casebook, Acceptance("evening", "level", " "))
    with pytest.raises(PlanError, match="with its kind and a reason"):
        sealing.accept(casebook, Acceptance("evening", "colour", "why not"))
    sealing.accept(casebook, Acceptance("evening", "level", "by ear"))
    found = plan_rows.draft(casebook, "evening")
    assert found is not None
    assert found.wish.accepted == (("level", "by ear"),)


def test_a_plan_nobody_knows_is_named(casebook: Casebook, tmp_path: Path, office: Office) -> None:
    with pytest.raises(PlanError, match="morning"):
        sealing.shown(casebook, office, "morning")
