"""Round robins."""

from __future__ import annotations

from sessions.casebook.store import Casebook
from tests.answered_plans import answer_all, sealed_plan
from tests.casebooks import judged


def test_a_round_robin_counts_each_pair_and_order(book: Casebook) -> None:
    sealed_plan(book, method="round-robin", trials=12)
    answer_all(book, 1.0)
    found = judged(book, "evening")
    assert found.outcome.details()["wins"]["sallow"] == {"bracken": 4, "sallow-late": 4}
    assert found.outcome.details()["totals"] == {"sallow": 8, "bracken": 4, "sallow-late": 0}
    assert found.preferred == "sallow"
    assert found.outcome.details()["consistency"]["Ada"]["circles"] == 0
