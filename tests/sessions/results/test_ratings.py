"""Graded answers: differences, screening, and what was left out."""

from __future__ import annotations

import pytest

from sessions.casebook.store import Casebook
from sessions.listening import session
from sessions.plans import seals
from sessions.plans.methods.graded import answer_of
from sessions.results import sentences
from tests.answered_plans import answer_all, sealed_plan
from tests.casebooks import judged


def test_differences_are_the_objects_grade_less_the_references(book: Casebook) -> None:
    sealed_plan(book, method="hidden-reference", trials=4)
    given = ("4.0", "3.5", "5.0", "4.6")
    with session.begin(book, "evening", "Ada", "none: test") as running:
        for grade in given:
            offered = running.next_trial()
            assert offered is not None
            places = {place: label for label, place in offered.key.items() if label != "R"}
            from decimal import Decimal

            running.answer(offered, answer_of({places[0]: Decimal("5.0"), places[1]: Decimal(grade)}), 3, 9000)
    found = judged(book, "evening")
    assert found.outcome.details()["differences"] == pytest.approx([-1.0, -1.5, 0.0, -0.4])
    assert found.p_value == pytest.approx(1 / 8)  # three differences that count, all below 0
    assert found.verdict == "not shown"


@pytest.mark.parametrize("method", ["hidden-reference", "multi-stimulus"])
def test_grades_of_a_plan_closed_early_are_told_and_decide_nothing(book: Casebook, method: str) -> None:
    sealed_plan(book, method=method, trials=8)
    answer_all(book, 1.0, most=7)
    seals.close(book, "evening", "too late")
    found = judged(book, "evening")
    assert (found.verdict, found.p_value, found.answered) == ("undecided", None, 7)
    assert "stopped after 7 of 8 trials: UNDECIDED" in sentences.sentences(found)[0]


def test_who_cannot_find_the_reference_is_named_and_who_hears_no_anchor_left_out(book: Casebook) -> None:
    names = ("Ada", "Dee", "Eve", "Bo", "Cy")
    sealed_plan(book, method="multi-stimulus", trials=4, listeners=names)
    for name in names[:3]:
        answer_all(book, 1.0, name)
    for name, same in (("Bo", 50), ("Cy", 95)):
        with session.begin(book, "evening", name, "none: test") as running:
            while (offered := running.next_trial()) is not None:
                from decimal import Decimal

                grades = {label: Decimal(same) for label in running.plan.method.graded}
                running.answer(offered, answer_of(grades), 1, 9000)
    found = judged(book, "evening")
    assert found.outcome.details()["kept"] == ["Ada", "Dee", "Eve", "Bo"]
    assert found.outcome.details()["missed_reference"] == {"Bo": "graded the hidden reference below 90 in 4 of 4 items"}
    assert found.outcome.details()["excluded"] == {"Cy": "graded the mid anchor above 90 in 4 of 4 items"}
    assert len(found.outcome.details()["grades"]["sallow"]) == 16
    assert any("to be known: Bo graded the hidden reference" in line for line in sentences.sentences(found))
