"""A difference in the channels' balance is evidence like the level match: beyond its limit a result cannot count."""

from __future__ import annotations

from typing import Any

from sessions.plans.plan import Plan, void_reasons
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
