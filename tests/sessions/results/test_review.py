"""A review: plans judged alone and together."""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256
from typing import Any

import pytest
from numpy.random import PCG64, Generator

from sessions.casebook.store import Casebook, Row
from sessions.plans import drafting, plan_rows, sealed_beside
from sessions.plans.order_of_sealing import Course
from sessions.plans.plan import Plan
from sessions.results import review, sentences
from sessions.results.verdict import PlanBefore, Verdict, judge
from tests.answered_plans import PAIR, SETUPS, answer_all, sealed_plan
from tests.casebooks import judged
from tests.independent_holm import adjusted
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
        by_holm = adjusted([one.p_value for one in verdicts])
        for alone, one, p_value in zip(verdicts, review.judged_together(verdicts), by_holm, strict=True):
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

    def test_a_ballot_asked_twice_beside_another_question_says_which_p_value_counts(self) -> None:
        one, two = (judge(record(plan("words", 12, name=name), [[RIGHT] * 12])) for name in ("one", "two"))
        found = review.judged_together([one, two, ten_trials("another question", 9)])[0]
        [counts] = [line for line in sentences.sentences(found) if line.startswith("Which of these p-values counts")]
        assert f"the verdict rests on p = {found.together.p_same_question:.4f}, of all plans on this question" in counts
        assert f"p = {found.together.p_holm:.4f} only says whether it holds among all primary" in counts
        alone = review.judged_together([one, ten_trials("another question", 9)])[0]
        assert not any("p-values counts" in line for line in sentences.sentences(alone))

    def test_what_could_never_have_counted_takes_no_part(self) -> None:
        by_itself = judge(record(plan("abx", 10, name="void", stated={"giveaways": UNCHECKED}), [[RIGHT] * 10]))
        given_up = replace(judge(record(plan("abx", 10, name="given up"), [None])), course=Course(2, over=3))
        assert (by_itself.verdict, given_up.verdict) == ("void", "undecided")
        begun = replace(ten_trials("first", 9), course=Course(1, begun=4))
        first, second, third = review.judged_together([begun, by_itself, given_up])
        assert (first.verdict, first.together.p_same_question) == ("heard", None)  # nothing else to be judged with
        assert first.together.asked_left_out == (
            PlanBefore("void", "void"),
            PlanBefore("given up", "over before any was begun"),
        )
        assert (second.verdict, second.together.p_same_question) == ("void", None)
        assert (third.verdict, third.together.p_same_question) == ("undecided", None)

    def test_closing_sisters_that_nobody_answered_gains_nothing(self) -> None:
        """13 of 18 has p = .048; sealed with two others it is not shown, whether those are then closed or not."""
        right = [RIGHT] * 13 + [WRONG] * 5
        one = replace(judge(record(plan("abx", 18, name="one"), [right])), course=Course(1, begun=4, over=5))
        others = [
            replace(judge(record(plan("abx", 18, name=f"other {n}"), [None])), course=Course(n, over=over))
            for n, over in ((2, 6), (3, 7))
        ]
        found = review.judged_together([one, *others])[0]
        assert found.together.p_same_question == pytest.approx(3 * one.p_value)
        assert (found.verdict, found.together.alone) == ("not shown", "heard")

    def test_each_stage_holds_by_the_alpha_of_its_plans(self) -> None:
        """12 of 16 has p = .038, 14 of 16 .002."""

        def of(name: str, right: int, alpha: str, course: Course) -> Verdict:
            made = plan("abx", 16, name=name, alpha=alpha)
            return replace(judge(record(made, [[RIGHT] * right + [WRONG] * (16 - right)])), course=course)

        strict = of("strict", 12, "0.01", Course(1, 2, 3))
        later = of("later", 14, "0.05", Course(4, 5, 6))
        assert [one.verdict for one in review.judged_together([strict, later])] == ["not shown", "not shown"]
        lenient = of("lenient", 12, "0.1", Course(1, 2, 3))
        found = review.judged_together([lenient, later])
        assert [one.verdict for one in found] == ["heard", "heard"]
        assert found[1].together.p_same_question == pytest.approx(later.p_value)

    def test_a_plan_void_by_its_record_counts(self) -> None:
        edited = judge(record(plan("abx", 10, name="edited"), [[RIGHT] * 10]), broken=["row 7 was edited"])
        assert edited.verdict == "void"
        first, second = review.judged_together([ten_trials("first", 9), edited])
        assert first.together.p_same_question == pytest.approx(2 * 11 / 1024)
        assert (second.verdict, second.together.p_same_question) == ("void", None)

    def test_the_order_of_sealing_decides(self) -> None:
        """By hand: 9 and 10 of 10 give 11/1024 and 1/1024; stage 1 holds the first two (Holm), stage 2 the third."""
        one, two, three = (
            replace(ten_trials(name, right), course=Course(row, begun))
            for name, right, row, begun in (("one", 9, 1, 3), ("two", 10, 2, 20), ("three", 10, 40, 41))
        )
        for order in ((one, two, three), (three, one, two)):
            found = {found.plan.name: found for found in review.judged_together(order)}
            assert found["one"].together.p_same_question == pytest.approx(11 / 1024)
            assert found["two"].together.p_same_question == pytest.approx(2 / 1024)
            assert found["three"].together.p_same_question == pytest.approx(1 / 1024)
            assert {one.verdict for one in found.values()} == {"heard"}

    def test_a_plan_sealed_after_one_that_was_not_shown_cannot_be_heard(self) -> None:
        tries = [replace(ten_trials(f"try {n}", right), course=Course(10 * n, 10 * n + 1))
                 for n, right in enumerate((5, 7, 10))]  # fmt: skip
        first, _, last = review.judged_together(tries)
        assert (last.verdict, last.together.alone) == ("not shown", "heard")
        assert last.together.p_same_question == 1
        assert last.together.asked_before == (PlanBefore("try 0", "not shown"), PlanBefore("try 1", "not shown"))
        said = sentences.sentences(last)
        assert said[0].endswith(
            "NOT SHOWN, since it was sealed after this question was begun, and can be heard only where "
            "try 0 (not shown) and try 1 (not shown) are."
        )
        assert any("holds only where try 0 (not shown) and try 1 (not shown) do." in line for line in said)
        assert not any("p = 1.0000" in line for line in said)
        assert (first.verdict, first.together.asked_before) == ("not shown", ())

    def test_a_plan_still_open_holds_back_what_was_sealed_after_it_was_begun(self) -> None:
        opened = replace(judge(record(plan("abx", 10, name="open"), [None], over=False)), course=Course(1, 2))
        later = replace(ten_trials("later", 10), course=Course(3, 4))
        found = review.judged_together([opened, later])[1]
        assert (found.verdict, found.together.asked_before) == ("not shown", (PlanBefore("open", "not begun"),))

    def test_a_review_knows_which_plan_was_sealed_when(self, book: Casebook) -> None:
        sealed_plan(book, "first", method="abx", trials=4)  # too few to be heard, whatever is answered
        sealed_plan(book, "second", method="triangle", trials=5)
        answer_all(book, 0.0, plan="first")
        later = sealed_plan(book, "third", method="duo-trio", trials=5)
        answer_all(book, 1.0, plan="second")
        answer_all(book, 1.0, plan="third")
        assert "2 primary questions" not in " ".join(sealed_beside.place_among_others(book, later).said)
        first, second, third = (judged(book, name) for name in ("first", "second", "third"))
        assert first.verdict == "not shown"
        # Holm by hand for the two that were sealed together: 1/243 is doubled; the third is held back by the first
        assert (second.together.p_holm, second.together.holds) == (pytest.approx(2 / 243), True)
        assert (third.together.p_holm, third.together.holds) == (1, False)
        assert third.together.primary_before == (PlanBefore("first", "not shown"),)

    def test_a_draft_says_that_it_comes_late(self, book: Casebook) -> None:
        made = sealed_plan(book, "first", method="abx", trials=5)
        assert sealed_beside.place_among_others(book, made).said == []
        answer_all(book, 0.0, plan="first")
        wish = plan_rows.Wish(method="abx", setups=PAIR, passages=(), listeners=("Ada",), trials=5)
        (again,) = sealed_beside.place_among_others(book, drafting.draft(book, wish, "again")).said
        assert "can be heard only where first is" in again
        (other,) = sealed_beside.place_among_others(
            book, drafting.draft(book, replace(wish, method="triangle"), "x")
        ).said
        assert "holds among them only where first does" in other
        aside = drafting.draft(book, replace(wish, method="triangle", exploratory=True), "y")
        assert sealed_beside.place_among_others(book, aside).said == []

    def test_a_draft_says_which_ballot_could_hold_no_more_once_it_is_sealed(self, book: Casebook) -> None:
        """Of three setups, four words, five trials: 4 · (1/3)⁴ = 0.049 is in reach by itself, and not counted twice."""
        words = {"method": "words", "setups": SETUPS, "words": ("bright", "boomy", "thin", "wide"), "trials": 5}
        sealed_plan(book, "three", **words)
        wish = plan_rows.Wish(method="triangle", setups=PAIR, listeners=("Ada",), trials=5)
        (lost,) = sealed_beside.place_among_others(book, drafting.draft(book, wish, "other")).said
        assert "no word of three can hold any more" in lost
        assert lost.endswith("Planned --exploratory it takes nothing from them.")
        aside = drafting.draft(book, replace(wish, exploratory=True), "aside")
        assert sealed_beside.place_among_others(book, aside).said == []
        again = drafting.draft(book, plan_rows.Wish(listeners=("Ada",), exploratory=True, **words), "again")
        own, before = sealed_beside.place_among_others(book, again).said  # the same question: exploratory does not help
        assert "the least p of 5 trials is 0.0494, and it counts 2 times. More trials, or fewer words." in own
        assert "no word of three can hold any more" in before
        assert before.endswith(
            "Sealed once three is begun it takes nothing from them, and can hold only where they do."
        )

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

    def test_a_panel_says_how_many_hear_it(self, book: Casebook, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("secrets.token_bytes", lambda _: sha256(b"a panel").digest())  # who guesses does so alike
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
    monkeypatch.setattr(Plan, "from_text", lambda text, called="": parsed.append(text) or from_text(text, called))

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
    assert len(asked) - three <= 9  # for one more plan, however many trials it has
