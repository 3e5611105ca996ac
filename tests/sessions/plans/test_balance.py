"""A difference in the channels' balance is evidence like the level match: beyond its limit a result cannot count."""

from __future__ import annotations

from typing import Any

from sessions.plans.plan import Plan, void_reasons
from sessions.preparation.channel_balance import PairBalance, largest, worst
from tests import records


def reasons(**stated: Any) -> list[str]:
    document = records.plan("abx", 8).document
    return void_reasons(Plan({**document, "match": {**document["match"], **stated}}))


def test_a_balance_beyond_its_limit_makes_a_plan_void() -> None:
    assert reasons(balance_db="0.4900", balance_limit_db="0.5") == []
    (said,) = reasons(balance_db="0.5100", balance_limit_db="0.5")
    assert said == "the balance of the channels differs by 0.5100 dB between the setups, more than the plan's 0.5 dB"


def test_an_accepted_balance_makes_nothing_void() -> None:
    assert reasons(balance_db="2.0000", balance_limit_db="0.5", balance_accepted="that is what is compared") == []


def test_a_plan_of_before_balance_was_asked_keeps_what_it_was_sealed_under() -> None:
    assert reasons() == []


def test_a_balance_that_could_not_be_judged_makes_nothing_void_and_is_said() -> None:
    document = records.plan("abx", 8).document
    hidden = {"balance": "not judged", "balance_limit_db": "0.5", "balance_hides_db": "1.4"}
    plan = Plan({**document, "match": {**document["match"], **hidden, "balance_loudness_db": "1.03"}})
    assert void_reasons(plan) == []
    assert plan.match.balance_db is None
    assert plan.match.unjudged_balance is not None
    said = plan.match.unjudged_balance.in_words()
    assert "could not be judged" in said
    assert "less than 1.4 dB" in said
    assert "differs by 1.03 dB" in said


def test_a_balance_beyond_its_limit_stands_whatever_else_is_not_judged() -> None:
    assert largest([0.7, 0.2], all_judged=False) == 0.7
    assert largest([0.3, 0.2], all_judged=False) is None
    assert largest([0.3, 0.2], all_judged=True) == 0.3
    assert largest([], all_judged=True) is None
    some = [PairBalance(("a", "b"), None, 0.9, None), PairBalance(("a", "c"), None, 1.4, 0.1)]
    assert worst(some) == some[1]
    assert worst([PairBalance(("b", "c"), 0.3, 0.6, 0.3)]) is None


def test_beside_a_balance_that_is_stated_only_that_of_others_is_said_not_to_be_judged() -> None:
    document = records.plan("abx", 8).document
    hidden = {"balance": "not judged", "balance_limit_db": "0.5", "balance_hides_db": "1.4"}
    sizes: tuple[dict[str, str], ...] = ({}, {"balance_db": "0.9000"})
    alone, beside = (Plan({**document, "match": {**document["match"], **hidden, **size}}).match for size in sizes)
    assert alone.unjudged_in_words.startswith("The balance of the channels could not be judged: ")
    assert beside.unjudged_in_words.startswith(
        "In other passages or setups the balance of the channels could not be judged: "
    )
