"""The two lines that are read first: plain, never "equal" where nothing was shown, and of nobody but who listened."""

from __future__ import annotations

import re

import pytest

from sessions.plans.methods.table import METHODS
from sessions.results import sentences, terms
from sessions.results.first_lines import first_lines
from sessions.results.how_answered import how_often
from sessions.results.verdict import judge
from tests.records import RIGHT, WRONG, plan, record


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (17 / 2**16, "about 3 of 10,000"),  # 15 or 16 of 16 by fair coins
        (11 / 2**10, "about 1 of 100"),  # 9 or 10 of 10
        (1 / 2**10, "about 1 of 1,000"),  # 10 of 10
        (1 / 2**16, "fewer than 1 of 10,000"),
        (9 / 2**8, "about 4 of 100"),  # 7 or 8 of 8
        (0.5, "about 50 of 100"),
    ],
)
def test_a_chance_is_told_as_so_many_of_so_many(chance: float, said: str) -> None:
    assert how_often(chance) == said


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("listeners", [1, 2])
def test_what_is_not_shown_is_never_told_as_equal_and_what_is_heard_only_of_who_listened(
    method: str, listeners: int
) -> None:
    for answers in ([RIGHT] * 12, [RIGHT, WRONG] * 6):
        found = judge(record(plan(method, 12, listeners=listeners), [answers] * listeners))
        first, second = first_lines(found)
        said = f"{first} {second}"
        assert not re.search(r"no difference|sound alike|are alike|inaudible", said)
        whose = "Ada" if listeners == 1 else "these listeners"
        if found.verdict == "heard":
            assert second.endswith(f"This is about {whose}{' alone' if listeners == 1 else ', taken together'}.")
        else:
            assert found.verdict == "not shown"
            assert second.endswith(f"That does not show that they are equal, to {whose} or to anybody else.")


@pytest.mark.parametrize("method", METHODS)
def test_a_rehearsal_is_marked_in_both_lines_and_says_nothing_of_anybody(method: str) -> None:
    found = judge(record(plan(method, 12), [[RIGHT] * 12], over=False, rehearsal=True))
    first, second = first_lines(found)
    assert first.startswith("REHEARSAL, never counted: ")
    assert second.endswith("A rehearsal says nothing about any person's hearing.")
    assert "Ada" not in second


def test_terms_are_explained_only_where_they_stand() -> None:
    said = terms.explained(["10 of 16 right (12 needed), p = 0.2272 at alpha 0.05."])
    assert [line.split(":")[0] for line in said] == ["p", "alpha", "needed"]
    assert terms.explained(["Nothing was answered."]) == []


def test_what_was_accepted_before_the_seal_is_said_beside_the_verdict_with_its_reason() -> None:
    one = {"setup": "sallow", "passage": "drums 1", "what": "sallow hums", "why": "its fan is part of it"}
    accepted = [
        one | {"kind": "hum"},
        one | {"kind": "hum", "passage": "voice 1"},
        one | {"kind": "width", "why": "so be it"},
    ]
    made = plan("abx", 8, stated={"giveaways": {"check": "0" * 64, "accepted": accepted, "open": []}})
    found = judge(record(made, [[RIGHT] * 8]))
    said = "Accepted before the seal, so that it may be what was heard: hum (because: its fan is part of it); width "
    (answer, second, third, *rest) = sentences.result(found)
    assert third == f"{said}(because: so be it) (plan show tells each)."  # right after what is read first
    assert not any(line.startswith("Accepted") for line in (answer, second, *rest))
    assert [given["kind"] for given in found.to_document()["accepted_giveaways"]] == ["hum", "hum", "width"]
    assert not any("Accepted" in line for line in sentences.result(judge(record(plan("abx", 8), [[RIGHT] * 8]))))


def test_an_accepted_balance_is_among_what_was_accepted() -> None:
    match = {"sheet": "0" * 64, "by": "bs1770", "residual_lu": "0.01", "tolerance_lu": "0.10"}
    balance = {"balance_db": "1.50", "balance_limit_db": "0.5", "balance_accepted": "it is recorded so"}
    found = judge(record(plan("abx", 8, stated={"match": match | balance}), [[RIGHT] * 8]))
    assert sentences.result(found)[2].startswith(
        "Accepted before the seal, so that it may be what was heard: channel-level (because: it is recorded so) ("
    )
    (given,) = found.to_document()["accepted_giveaways"]
    assert (given["kind"], given["why"]) == ("channel-level", "it is recorded so")
    assert "1.50 dB" in given["what"]
