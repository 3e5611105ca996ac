"""Counted answers: the exact test of each chance, sequential rules, ties, controls, what is ruled out."""

from __future__ import annotations

from pathlib import Path

import pytest
from scipy.stats import binomtest

from sessions.casebook.store import Casebook
from sessions.errors import ListenError
from sessions.listening import session
from sessions.plans import seals
from sessions.plans.methods.table import METHODS
from sessions.plans.methods.triangle import TRIANGLE
from sessions.results import sentences
from sessions.results.outcome import Discrimination
from sessions.results.verdict import judge
from tests.answered_plans import WISHES, answer_all, checked_alone, sealed_plan
from tests.casebooks import judged
from tests.records import NEITHER, RIGHT, WRONG, plan, record


@pytest.mark.parametrize("method", [m for m in WISHES if METHODS[m].analysis == "count"])
def test_a_count_is_judged_by_the_exact_test_of_its_chance(book: Casebook, method: str, tmp_path: Path) -> None:
    sealed_plan(book, method=method, **(WISHES[method] | {"controls": 0}))
    answer_all(book, 0.3)
    found = judged(book, "evening")
    chance = 1 / 3 if method in ("triangle", "tetrad") else 0.5
    side = "two-sided" if method == "preference" else "greater"
    wanted = binomtest(found.count.correct or 0, found.trials, chance, alternative=side).pvalue
    assert found.p_value == pytest.approx(wanted, rel=1e-9)
    told = checked_alone(book, tmp_path)
    assert f"p = {wanted:.6g}" in told


def test_a_control_that_was_answered_never_counts(book: Casebook) -> None:
    sealed_plan(book, method="preference", trials=6, controls=4)
    with session.begin(book, "evening", "Ada", "none: test") as running:
        while (offered := running.next_trial()) is not None:
            control = len(set(offered.key.values())) == 1
            first = "1" if offered.key["1"] == 0 else "2"
            running.answer(offered, "2" if control else first, 2, 3000)
    found = judged(book, "evening")
    assert (found.count.correct, found.trials) == (6, 6)
    assert found.beside.to_document()["health"]["Ada"]["controls"]["sides"]["counts"] == {"1": 0, "2": 4}


class TestSequential:
    def test_it_ends_at_its_boundary_and_not_before(self, book: Casebook, tmp_path: Path) -> None:
        plan = sealed_plan(book, method="abx", stopping="sprt", trials=40)
        assert plan.sequential is not None
        boundaries = plan.sequential.boundaries
        answer_all(book, 1.0)
        found = judged(book, "evening")
        first = next(n for n in range(1, 41) if boundaries.decision(n, n) == "heard")
        assert (found.verdict, found.trials, found.count.correct) == ("heard", first, first)
        assert found.p_value == pytest.approx(0.5**first)  # nothing is more extreme than all right, so far
        assert "heard" in checked_alone(book, tmp_path)
        with pytest.raises(ListenError, match="is over"):
            session.begin(book, "evening", "Ada", "none: test")

    def test_it_gives_up_when_it_is_wrong_often_enough(self, book: Casebook, tmp_path: Path) -> None:
        sealed_plan(book, method="triangle", stopping="sprt", trials=40)
        with session.begin(book, "evening", "Ada", "none: test") as running:
            while (offered := running.next_trial()) is not None:
                wrong = next(a for a in "123" if not TRIANGLE.score(offered.key, a))
                running.answer(offered, wrong, 2, 3000)
        found = judged(book, "evening")
        assert found.verdict == "not shown"
        assert found.trials < 10
        assert found.p_value is not None
        assert found.p_value > 0.5
        assert "not shown" in checked_alone(book, tmp_path)

    def test_nothing_of_its_score_is_told_while_it_runs(self, book: Casebook) -> None:
        sealed_plan(book, method="abx", stopping="e-process", trials=40)
        answer_all(book, 1.0, most=3)
        found = judged(book, "evening")
        assert found.verdict is None
        assert (found.outcome, found.p_value, found.beside) == (None, None, None)
        assert "under way" in sentences.sentences(found)[0]

    def test_closing_it_before_its_end_decides_nothing(self, book: Casebook) -> None:
        sealed_plan(book, method="abx", stopping="e-process", trials=40)
        answer_all(book, 1.0, most=4)
        seals.close(book, "evening", "the amplifier went home")
        found = judged(book, "evening")
        assert (found.verdict, found.state, found.p_value) == ("undecided", "closed early", None)
        assert (found.count.interval, found.count.d_prime, found.count.largest_difference) == (None, None, None)

    def test_a_fixed_plan_cannot_be_extended(self, book: Casebook) -> None:
        sealed_plan(book, method="abx", trials=4)
        answer_all(book, 0.0)
        with pytest.raises(ListenError, match="is over"):
            session.begin(book, "evening", "Ada", "none: test")


def test_ties_are_left_out_or_split_as_planned(book: Casebook, tmp_path: Path) -> None:
    for name, ties, wanted in (("dropped", "drop", (5, 5)), ("halved", "split", (6, 8))):
        sealed_plan(book, name, method="preference", trials=8, ties=ties)
        with session.begin(book, name, "Ada", "none: test") as running:
            for number in range(8):
                offered = running.next_trial()
                assert offered is not None
                mine = "1" if offered.key["1"] == 0 else "2"
                running.answer(offered, "T" if number < 3 else mine, 2, 3000)
        found = judged(book, name)
        assert (found.count.correct, found.trials) == wanted
        # 5 of 5, or 5 and half of two ties (the odd one goes to the other side): 6 of 8
        assert found.p_value == pytest.approx(binomtest(*wanted, 0.5).pvalue)
        assert f"p = {found.p_value:.6g}" in checked_alone(book, tmp_path, name)


def test_a_foreseen_side_is_tested_one_sided(book: Casebook, tmp_path: Path) -> None:
    sealed_plan(book, method="preference", trials=6, one_sided=True)
    answer_all(book, 1.0)
    found = judged(book, "evening")
    assert found.p_value == pytest.approx(0.5**6)
    assert "p = 0.015625" in checked_alone(book, tmp_path)


def test_what_a_plan_means_to_rule_out_is_said(book: Casebook) -> None:
    sealed_plan(book, method="abx", trials=40, rule_out="0.5")
    with session.begin(book, "evening", "Ada", "none: test") as running:
        for number in range(40):
            offered = running.next_trial()
            assert offered is not None
            right = "A" if offered.key["X"] == 0 else "B"
            running.answer(offered, right if number < 21 else ("B" if right == "A" else "A"), 2, 3000)
    told = judged(book, "evening")
    # 21 of 40: P(X <= 21 | 40, .75) = 0.0016 by scipy, so a share of 50 % is ruled out
    assert binomtest(21, 40, 0.75, alternative="less").pvalue < 0.05
    assert any("As planned, it rules out" in line for line in sentences.sentences(told))
    claims = [line for line in sentences.sentences(told) if "are equal" in line]
    assert claims == [line for line in claims if "That does not show that they are equal" in line]


@pytest.mark.parametrize("policy", ["drop", "split"])
@pytest.mark.parametrize("given", [(3, 0, 3), (0, 3, 3), (2, 2, 2), (1, 3, 1), (0, 0, 6), (5, 0, 1), (0, 5, 1)])
def test_a_listeners_part_counts_ties_as_the_plan_does(policy: str, given: tuple[int, int, int]) -> None:
    """Alone in a plan a listener has the plan's own count, of as many trials, and its p: ties count against nobody."""
    first, second, ties = given
    answers = [RIGHT] * first + [WRONG] * second + [NEITHER] * ties
    found = judge(record(plan("preference", 6, ties=policy), [answers])).outcome
    assert isinstance(found, Discrimination)
    part = found.listeners[0]
    assert (part.correct, part.counted, part.p_value) == (found.correct, found.counted, found.p_value)
    if sum(given) == 6 and policy == "split":
        assert (part.correct, part.counted) == ((first + ties // 2 + (ties % 2 and first < second)), 6)
    if policy == "drop":
        assert (part.correct, part.counted) == (first, first + second)
