"""A review: plans judged alone and together."""

from __future__ import annotations

from typing import Any

import pytest
from numpy.random import PCG64, Generator
from statsmodels.stats.multitest import multipletests

from sessions.casebook.store import Casebook, Row
from sessions.plans.plan import Plan
from sessions.results import review, sentences
from sessions.results.verdict import Verdict, judge
from tests.answered_plans import PAIR, answer_all, sealed_plan
from tests.casebooks import judged
from tests.records import RIGHT, WRONG, plan, record

UNCHECKED = {"check": "none", "accepted": [], "open": []}


def ten_trials(name: str, right: int) -> Verdict:
    return judge(record(plan("abx", 10, name=name), [[RIGHT] * right + [WRONG] * (10 - right)]))


class TestTogether:
    def test_plans_on_the_same_question_are_named_with_each_other(self, book: Casebook) -> None:
        sealed_plan(book, "first", method="abx", trials=4)
        answer_all(book, 0.0, plan="first")
        again = sealed_plan(book, "again", method="abx", trials=5, setups=PAIR[::-1])
        assert [one["name"] for one in again.document["earlier"]] == ["first"]
        answer_all(book, 1.0, plan="again")
        for name, other in (("first", "again"), ("again", "first")):
            assert any(f"also asked in {other}" in line for line in sentences.sentences(judged(book, name)))

    @pytest.mark.parametrize("seed", range(4))
    def test_the_headline_of_plans_on_one_question_is_the_corrected_one(self, seed: int) -> None:
        rng = Generator(PCG64(seed))
        verdicts = [ten_trials(f"plan {n}", int(rng.integers(6, 11))) for n in range(6)]
        adjusted = multipletests([one.p_value for one in verdicts], method="holm")[1]
        for alone, one, p_value in zip(verdicts, review.judged_together(verdicts), adjusted, strict=True):
            assert one.together.p_same_question == pytest.approx(p_value)
            assert one.together.alone == alone.verdict
            assert one.verdict == ("heard" if p_value <= 0.05 else "not shown")
            headline = sentences.sentences(one)[0]
            assert ("HEARD" in headline) == (p_value <= 0.05)
            assert ("the 6 plans that ask this question taken together" in headline) == (one.verdict != alone.verdict)

    def test_a_sister_counts_from_the_moment_it_is_sealed(self) -> None:
        alone = ten_trials("first", 9)  # p = 11/1024
        opened = judge(record(plan("abx", 10, name="second"), [None], over=False))
        undecided = judge(record(plan("abx", 10, name="third"), [[RIGHT]]))
        other = judge(record(plan("triangle", 9, name="another question"), [None], over=False))
        found = review.judged_together([alone, opened, undecided, other])[0]
        assert found.together.p_same_question == pytest.approx(3 * 11 / 1024)
        assert found.together.p_holm == pytest.approx(4 * 11 / 1024)
        assert found.verdict == "heard"

    def test_a_void_plan_takes_no_part_but_in_number(self) -> None:
        void = judge(record(plan("abx", 10, name="void", stated={"giveaways": UNCHECKED}), [[RIGHT] * 10]))
        assert void.verdict == "void"
        first, second = review.judged_together([ten_trials("first", 9), void])
        assert first.together.p_same_question == pytest.approx(2 * 11 / 1024)
        assert (second.verdict, second.together.p_same_question) == ("void", None)

    def test_primary_questions_share_one_error_rate(self, book: Casebook) -> None:
        sealed_plan(book, "one", method="abx", trials=5)
        sealed_plan(book, "two", method="triangle", trials=3, alpha="0.05")
        sealed_plan(book, "aside", method="duo-trio", trials=5, exploratory=True)
        for name in ("one", "two", "aside"):
            answer_all(book, 1.0, plan=name)
        one, two, aside = (judged(book, name) for name in ("one", "two", "aside"))
        # Holm by hand: p = 1/32 and 1/27; the smaller is doubled, the larger not below it
        assert one.together.to_document()["p_holm"] == pytest.approx(2 / 32)
        assert two.together.to_document()["p_holm"] == pytest.approx(2 / 32)
        assert one.verdict == "heard"
        assert one.together.to_document()["holds"] is False
        assert "on its own, but not among the 2 primary questions" in sentences.sentences(one)[0]
        assert "p_holm" not in aside.together.to_document()
        assert any("Exploratory" in line for line in sentences.sentences(aside))

    def test_a_panel_says_how_many_hear_it(self, book: Casebook) -> None:
        sealed_plan(book, method="abx", trials=16, listeners=("Ada", "Bo", "Cy"))
        for name, hears in (("Ada", 1.0), ("Bo", 1.0), ("Cy", 0.0)):
            answer_all(book, hears, name)
        told = judged(book, "evening").beside.to_document()["panel"]
        assert told["hear_it"]["at_least"] == 2
        assert told["hear_it"]["at_most_half_the_time"] in (2, 3)
        assert [own["correct"] for own in told["listeners"]][:2] == [16, 16]


def test_each_plan_is_parsed_once_and_asked_for_a_fixed_number_of_times(
    book: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("first", "second", "third"):
        sealed_plan(book, name, method="abx", trials=6)
        answer_all(book, 1.0, plan=name)
    parsed: list[str] = []
    asked: list[str] = []
    from_text, query = Plan.from_text, Casebook.query
    monkeypatch.setattr(Plan, "from_text", lambda text: parsed.append(text) or from_text(text))

    def counted(self: Casebook, sql: str, *parameters: Any) -> list[Row]:
        asked.append(sql)
        return query(self, sql, *parameters)

    monkeypatch.setattr(Casebook, "query", counted)
    found = review.review(book)
    assert [one.verdict.verdict for one in found.plans] == ["heard"] * 3
    assert len(parsed) == 3
    three = len(asked)
    asked.clear()
    sealed_plan(book, "fourth", method="abx", trials=6)
    answer_all(book, 1.0, plan="fourth")
    asked.clear()
    review.review(book)
    assert len(asked) - three <= 8  # for one more plan, however many trials it has
