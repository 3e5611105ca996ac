"""Round robins."""

from __future__ import annotations

import pytest

from sessions.casebook.store import Casebook
from sessions.results import sentences
from sessions.results.outcome import PairedComparison
from sessions.results.paired_comparison import Choice, paired_comparison
from sessions.results.verdict import Verdict, judge
from tests.answered_plans import answer_all, sealed_plan
from tests.casebooks import judged
from tests.records import RIGHT, WRONG, plan, record


def test_a_round_robin_counts_each_pair_and_order(book: Casebook) -> None:
    sealed_plan(book, method="round-robin", trials=12)
    answer_all(book, 1.0)
    found = judged(book, "evening")
    assert found.outcome.details()["wins"]["sallow"] == {"bracken": 4, "sallow-late": 4}
    assert found.outcome.details()["totals"] == {"sallow": 8, "bracken": 4, "sallow-late": 0}
    assert found.preferred is None  # the test says that not all are chosen alike, and of none that it is the best
    assert found.outcome.details()["consistency"]["Ada"]["circles"] == 0


def test_no_setup_is_named_where_the_test_says_that_not_all_are_chosen_alike() -> None:
    """Two are chosen alike over each other, and both over the third: 8 choices against 7 name neither."""
    pairs = [(0, 1)] * 5 + [(0, 2)] * 5 + [(1, 2)] * 5
    chosen = [Choice(one, two, one == 0 or two == 2) for one, two in pairs]
    chosen[3:5] = [Choice(0, 1, False)] * 2
    names = ("sallow", "bracken", "sallow-late")
    found = paired_comparison({"Ada": chosen}, {"Ada": 15}, names, 5, 0.05, 1)
    assert (found.reached, found.totals) == (True, {"sallow": 8, "bracken": 7, "sallow-late": 0})
    verdict = Verdict(plan("round-robin", 15), "heard", "complete", [], 15, 15, outcome=found)
    said = sentences.result(verdict)
    assert said[0].endswith(": a preference was SHOWN: not all are chosen alike.")
    assert said[1].startswith(
        "Chosen by Ada of 15 comparisons: sallow: 8, bracken: 7, sallow-late: 0; were all liked alike, "
    )
    assert said[2].startswith("Chosen of 15 comparisons: sallow: 8, bracken: 7, sallow-late: 0; all alike: p = ")
    assert verdict.to_document()["preferred"] is None


def test_a_p_that_was_drawn_is_said_to_be_with_its_draws_and_error() -> None:
    """Each pair eighty times: the outcomes are too many to be gone through. Four times each is exact."""
    found = judge(record(plan("round-robin", 240), [[RIGHT, WRONG] * 120]))
    assert isinstance(found.outcome, PairedComparison)
    p, error = found.outcome.p_value, found.outcome.p_error
    assert p is not None
    assert error == pytest.approx((p * (1 - p) / 20_000) ** 0.5)
    said = f"(estimated by 20000 random draws, standard error {error:.5f}) at alpha 0.05"
    assert any(said in line for line in sentences.sentences(found))
    few = judge(record(plan("round-robin", 12), [[RIGHT] * 12]))
    assert not any("estimated" in line for line in sentences.sentences(few))
