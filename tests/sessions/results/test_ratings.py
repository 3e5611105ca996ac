"""Graded answers: differences, screening, and what was left out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
import pytest
from scipy.stats import binomtest, permutation_test

from sessions.casebook.store import Casebook
from sessions.listening import session
from sessions.plans import seals
from sessions.plans.methods.graded import answer_of
from sessions.results import outcome_sentences, sentences
from sessions.results.answers import FEWEST
from sessions.results.outcome import DifferenceGrades, QualityGrades
from sessions.results.ratings import Difference, difference_grades
from sessions.results.verdict import judge
from tests.answered_plans import answer_all, sealed_plan
from tests.casebooks import judged
from tests.records import RIGHT, WRONG, plan, record


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


def graded_by_ada(differences: Sequence[float]) -> DifferenceGrades:
    number = len(differences)
    given = {"Ada": [Difference("drums", one) for one in differences]}
    return difference_grades(given, {"Ada": number}, number, 0.05)


@pytest.mark.parametrize("sizes", [(1.0,), (1.0, 1.1), (0.1, 0.5, 2.0)])
@pytest.mark.parametrize("trials", range(2, 11))
def test_who_guesses_is_named_as_having_found_the_reference_in_no_more_than_five_of_a_hundred(
    trials: int, sizes: tuple[float, ...]
) -> None:
    """Grades as the guesser likes, and every way in which fair coins can give them to reference and object."""
    habit = [sizes[n % len(sizes)] for n in range(trials)]
    named = [
        bool(graded_by_ada(np.multiply(habit, signs).tolist()).experts) for signs in product((-1, 1), repeat=trials)
    ]
    assert sum(named) <= 0.05 * len(named)
    assert any(named) == (trials >= FEWEST)


@pytest.mark.parametrize("trials", [1, 2, FEWEST - 1, FEWEST, 9])
def test_nothing_is_said_of_one_listener_s_hearing_by_fewer_than_five_answers(trials: int) -> None:
    own = graded_by_ada([-1.0 - n / 10 for n in range(trials)])
    said = " ".join(outcome_sentences.numbers(plan("hidden-reference", trials), own))
    told = own.details()["listeners"]["Ada"]
    assert ("Ada" in said) == (trials >= FEWEST)
    assert (told["p_value"], told["expert"]) == ((None, None) if trials < FEWEST else (0.5**trials, True))
    assert own.listeners[0].p_value == told["p_value"]


def test_each_listener_is_tested_by_all_exchanges_of_their_own_grades() -> None:
    grades = [-0.5, -1.0, 0.2, -0.8, -0.3, -1.2, 0.0, -0.6]
    wanted = permutation_test(
        (grades,), np.sum, permutation_type="samples", alternative="less", n_resamples=np.inf, vectorized=False
    )
    found = graded_by_ada(grades)
    assert found.by_listener["Ada"].p_value == pytest.approx(wanted.pvalue, rel=1e-12)
    assert found.by_passage["drums"].p_value == pytest.approx(wanted.pvalue, rel=1e-12)
    named = (
        "Found the reference, each tested by themselves without correction (one-sided exact randomisation test, 5 %): "
        "Ada."
    )
    assert named in outcome_sentences.numbers(plan("hidden-reference", 8), found)


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


MEDIANS = (
    "permutation test of the difference of medians for each pair of setups (grades exchanged in a trial), "
    "Holm-corrected over the pairs, after post-screening by the mid anchor"
)
"""The test that plans of before say."""


def test_what_every_trial_says_is_heard() -> None:
    """A hundred against sixty in all of eight trials: two of 256 exchanges lie so far apart."""
    found = judge(record(plan("multi-stimulus", 8, passages=1), [[RIGHT] * 8]))
    assert isinstance(found.outcome, QualityGrades)
    assert [pair.p_value for pair in found.outcome.pairs] == [1 / 128, 1 / 128, 1.0]
    assert (found.verdict, found.p_value) == ("heard", 3 / 128)


def test_a_plan_is_judged_by_the_test_it_was_sealed_with() -> None:
    """Exchanging any three of the eight trials leaves both medians: 186 of 256 exchanges are as far apart."""
    found = judge(record(plan("multi-stimulus", 8, passages=1, stated={"test": MEDIANS}), [[RIGHT] * 8]))
    assert isinstance(found.outcome, QualityGrades)
    assert [pair.p_value for pair in found.outcome.pairs] == [186 / 256, 186 / 256, 1.0]
    assert (found.verdict, found.p_value) == ("not shown", 1.0)
    assert not any("estimated" in line for line in sentences.sentences(found))


def test_a_p_that_was_drawn_is_said_to_be_with_its_draws_and_error() -> None:
    found = judge(
        record(plan("multi-stimulus", 14, passages=1, stated={"test": MEDIANS}), [[RIGHT] * 12 + [WRONG] * 2])
    )
    assert isinstance(found.outcome, QualityGrades)
    pair = found.outcome.pairs[0]
    assert pair.p_error == pytest.approx((pair.p_value * (1 - pair.p_value) / 10_000) ** 0.5)
    wanted = f"p = {pair.p_value:.4f} (estimated by 10000 random draws, standard error {pair.p_error:.5f})"
    assert any(wanted in line for line in sentences.sentences(found))
    assert found.outcome.details()["pairs"][0]["p_draws"] == 10_000


def test_of_many_trials_p_is_exact() -> None:
    """Thirty trials: 24 one way and 6 the other, each by forty grades."""
    found = judge(record(plan("multi-stimulus", 30, passages=1), [[RIGHT] * 24 + [WRONG] * 6]))
    assert isinstance(found.outcome, QualityGrades)
    assert found.outcome.pairs[0].p_error is None
    assert found.outcome.pairs[0].p_value == pytest.approx(binomtest(24, 30).pvalue, rel=1e-12)
