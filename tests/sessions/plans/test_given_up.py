"""A plan whose secret is lost is given up on record, with its reason: never opened, and waiting for nobody."""

from __future__ import annotations

import json

import pytest

from sessions.casebook import secret_files
from sessions.casebook.store import Casebook
from sessions.errors import PlanError
from sessions.listening import session
from sessions.plans import drafting, plan_rows, seals, second_hand
from sessions.plans.plan_rows import Wish
from sessions.results import verification
from tests.answered_plans import PAIR, answer_all
from tests.casebooks import chain_holds
from tests.command_line import earwitness

TYPED, WHY = "ten green bottles 1972 under the stairs", "who held the second secret moved away"


def sealed(casebook: Casebook, name: str, *, held: bool = True, phrase: bool = False) -> None:
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=8), name)
    ask = (lambda: second_hand.chosen(TYPED)) if held else None
    seals.seal(casebook, name, await_phrase=phrase, ask_second=ask)


def waiting(casebook: Casebook) -> list[str]:
    done = earwitness(casebook.folder, "status", "--json")
    return [one["command"] for one in json.loads(done.stdout)["waiting"]]


def test_a_lost_second_secret_ends_in_a_plan_given_up_that_waits_no_more(casebook: Casebook) -> None:
    book = casebook.folder
    sealed(casebook, "evening")
    answer_all(casebook, 0.5, most=3, second=TYPED)
    assert any("listen evening" in command for command in waiting(casebook))
    assert earwitness(book, "plan", "close", "evening", "--lost-secret").returncode == 2  # without a reason
    done = earwitness(book, "plan", "close", "evening", "--lost-secret", "--why", WHY)
    assert done.returncode == 0, done.stderr
    assert "stays sealed" in done.stdout
    assert not any("evening" in command for command in waiting(casebook))
    (plan,) = json.loads(earwitness(book, "plan", "list", "--json").stdout)["plans"]
    assert (plan["state"], plan["why"]) == ("given up", WHY)
    told = earwitness(book, "verdict", "evening").stdout
    assert f"given up unopened ({WHY}).\n  3 of 8 trials were answered. What they came to can never be told." in told
    (verdict,) = json.loads(earwitness(book, "verdict", "evening", "--json").stdout)["plans"]
    assert (verdict["verdict"], verdict["state"], verdict["correct"]) == (None, "given up", None)
    assert verification.verify(casebook).ok
    assert chain_holds(casebook)
    assert earwitness(book, "report", "--out", str(book / "report.html")).returncode == 0


def test_what_is_given_up_is_never_opened_nor_begun_nor_given_up_twice(casebook: Casebook) -> None:
    sealed(casebook, "evening", phrase=True)
    seals.give_up(casebook, "evening", WHY)
    plan = seals.sealed_plan(casebook, "evening").plan
    refused = f"was given up unopened \\({WHY}\\)"
    with pytest.raises(PlanError, match=refused):
        seals.close(casebook, "evening", "found again", TYPED)
    with pytest.raises(PlanError, match=refused):
        seals.give_up(casebook, "evening", "again")
    with pytest.raises(PlanError, match=refused):
        seals.give_phrase(casebook, "evening", "rain on Tuesday")
    with pytest.raises(PlanError, match=refused):
        session.begin(casebook, "evening", "Ada", "none", lambda _: TYPED)
    assert plan_rows.opening(casebook, plan.id) is None
    assert casebook.query("SELECT * FROM keys") == []


def test_an_answer_on_its_way_is_refused_and_the_session_stands_as_abandoned(casebook: Casebook) -> None:
    sealed(casebook, "evening")
    with session.begin(casebook, "evening", "Ada", "none", lambda _: TYPED) as running:
        offered = running.next_trial()
        assert offered is not None
        seals.give_up(casebook, "evening", WHY)
        with pytest.raises(PlanError, match="given up unopened"):
            running.answer(offered, "A", 2, 900)
    assert casebook.query("SELECT * FROM answers") == []
    marks = casebook.query("SELECT what, note FROM session_marks ORDER BY seq")
    assert [(row["what"], row["note"]) for row in marks] == [("begun", ""), ("abandoned", WHY)]


def test_a_plan_of_which_nothing_is_lost_is_closed_and_told_instead(casebook: Casebook) -> None:
    sealed(casebook, "evening", held=False)
    with pytest.raises(PlanError, match="can be closed and told: earwitness plan close evening --why"):
        seals.give_up(casebook, "evening", WHY)
    secret_files.path_of(casebook.folder, seals.sealed_plan(casebook, "evening").plan.id).unlink()
    seals.give_up(casebook, "evening", "the disk failed")
    assert list(plan_rows.given_up(casebook).values()) == ["the disk failed"]
    assert verification.verify(casebook).ok  # nothing of it is missed any more


def test_an_opening_of_what_was_given_up_is_found(casebook: Casebook) -> None:
    sealed(casebook, "evening")
    plan = seals.sealed_plan(casebook, "evening").plan
    unlocked = seals.unlock(casebook, seals.sealed_plan(casebook, "evening"), TYPED)
    seals.give_up(casebook, "evening", WHY)
    seals.open_seal(casebook, unlocked, "closed early: it was found again", {})
    assert f"plan {plan.name}: it was given up unopened, and its opening stands in the record" in (
        verification.verify(casebook).broken
    )
