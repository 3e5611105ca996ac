"""What a verdict's sentences say is true of the answers that were given, whatever those were."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from sessions.plans.methods.graded import answer_of
from sessions.plans.order_of_sealing import Course
from sessions.plans.plan import Plan
from sessions.report import trial_strips
from sessions.results import sentences, supplementary_sentences, terms
from sessions.results.plan_record import PlanRecord
from sessions.results.together import judged_together
from sessions.results.verdict import Verdict, judge
from stats import hidden_reference, multi_stimulus
from tests.records import NEITHER, RIGHT, WRONG, plan, record

TOO_LOUD = {"match": {"sheet": "0" * 64, "by": "bs1770", "residual_lu": "0.3000", "tolerance_lu": "0.1"}}
STEP = {"known": {"trials": 6, "step_db": "-0.5", "residual_lu": "0.0000"}}


def second_line(found: Verdict) -> str:
    """What is read of a verdict after its headline."""
    return sentences.result(found)[1]


def preference(answers: list[list[str]], trials: int, **wish: object) -> Verdict:
    return judge(record(plan("preference", trials, listeners=len(answers), **wish), answers))


ONLY_TIES = [[NEITHER] * 8, [RIGHT] * 8]


class TestWhoseAnswersCount:
    def test_whoever_gave_nothing_but_ties_that_are_left_out_is_not_among_those_who_chose(self) -> None:
        said = second_line(preference(ONLY_TIES, 8, ties="drop"))
        assert "8 times by Bo" not in said  # 8 and 0
        assert "chosen 8 and bracken 0 times by Bo (8 ties are left out, every answer of Ada among them)" in said
        assert said.endswith("This is about Bo alone.")

    def test_the_line_of_each_listener_says_who_gave_nothing_but_ties(self) -> None:
        said = supplementary_sentences.sentences(preference(ONLY_TIES, 8, ties="drop"))
        assert "By listener: Ada answered 8 of 8, all of them ties, Bo answered 8 of 8." in said

    def test_beside_a_panel_too_it_is_said_who_gave_nothing_but_ties(self) -> None:
        found = preference([[NEITHER] * 8, [RIGHT] * 8, [WRONG, *[RIGHT] * 7]], 8, ties="drop")
        assert "Of Ada every answer was a tie." in supplementary_sentences.sentences(found)

    def test_where_all_gave_nothing_but_ties_all_are_named(self) -> None:
        assert "Every answer by Ada and Bo was a tie." in second_line(preference([[NEITHER] * 8] * 2, 8, ties="drop"))


class TestSmallNumbers:
    @pytest.mark.parametrize(
        ("apart", "graded_apart", "said"),
        [
            ("0.1", 9, "lay 0.045 grades above the other"),  # 9 tenths over 20 trials
            ("0.1", 8, "lay 0.04 grades above the other"),
            ("0.1", 10, "lay 0.05 grades above the other"),
            ("0.1", 20, "lay 0.1 grades above the other"),
            ("1.3", 20, "lay 1.3 grades above the other"),
        ],
    )
    def test_what_is_heard_is_never_level_and_no_number_is_rounded_to_another_impression(
        self, apart: str, graded_apart: int, said: str
    ) -> None:
        found = graded([(Decimal(5), Decimal(5) - Decimal(apart))] * graded_apart, 20)
        assert found.verdict == "heard"
        assert said in second_line(found)
        mean = graded_apart * float(apart) / 20
        assert f"Mean difference grade {-mean:.2f}"[:26] in sentences.numbers(found)[0]

    def test_a_mean_difference_that_is_not_0_is_not_told_as_0(self) -> None:
        found = graded([(Decimal(5), Decimal("4.9"))], 30)  # a tenth over 30 trials
        assert "lay 0.0033 grades above the other" in second_line(found)
        assert "Mean difference grade -0.0033 " in sentences.numbers(found)[0]

    def test_only_a_mean_of_0_is_level(self) -> None:
        found = graded([], 8)
        assert "lay level with the other on average" in second_line(found)
        assert "Mean difference grade 0.00 " in sentences.numbers(found)[0]

    def test_one_of_a_thing_is_told_in_the_singular(self) -> None:
        assert second_line(preference([[WRONG]], 1)).startswith(
            "In 1 trial sallow was chosen 0 times and bracken once by Ada,"
        )
        assert second_line(judge(record(plan("abx", 1), [[RIGHT]]))).startswith("1 of 1 trial was answered rightly")

    def test_a_sensitivity_below_0_is_explained(self) -> None:
        assert any("below 0" in line for line in terms.explained(["d' -0.35"]))


class TestTies:
    def test_halved_ties_are_told_as_ties_and_choices_as_choices(self) -> None:
        said = second_line(preference([[NEITHER] * 9], 9, ties="split"))
        assert "sallow was chosen 0 and bracken 0 times by Ada (9 ties, counted half for each side, the odd one" in said
        assert "8 for one side were needed" in said

    def test_choices_beside_ties_are_those_that_were_made(self) -> None:
        said = second_line(preference([[NEITHER] * 3 + [WRONG] * 4 + [RIGHT] * 2], 9, ties="split"))
        assert "sallow was chosen 2 and bracken 4 times by Ada (3 ties, counted half" in said

    def test_readings_that_take_halves_for_answers_say_so(self) -> None:
        found = preference([[NEITHER] * 3 + [RIGHT] * 6, [NEITHER] * 9], 9, ties="split")
        lines = supplementary_sentences.sentences(found)
        assert any(line.startswith("A Bayesian reading, ties halved, where ") for line in lines)
        assert any(line.startswith("By listener (exploratory, ties halved): ") for line in lines)
        dropped = supplementary_sentences.sentences(preference([[NEITHER] * 3 + [RIGHT] * 6], 9, ties="drop"))
        assert not any("ties halved" in line for line in dropped)


class TestNotShown:
    @pytest.mark.parametrize("trials", [4, 5])
    def test_where_no_grades_could_have_been_enough_it_says_so(self, trials: int) -> None:
        """Of fewer than 5 trials even all signs alike are a chance above 0.05."""
        least = hidden_reference.randomisation_test([-4.0] * trials)
        found = judge(record(plan("hidden-reference", trials), [[RIGHT] * trials]))
        enough = "no grades would have been enough with so few trials"
        assert (enough in second_line(found)) == (least > 0.05) == (found.verdict == "not shown")
        other = judge(record(plan("hidden-reference", trials), [[RIGHT, WRONG, WRONG, NEITHER, RIGHT][:trials]]))
        assert ("which is not enough" in second_line(other)) == (least <= 0.05)
        assert (enough in second_line(other)) == (least > 0.05)

    def test_grades_on_the_wrong_side_are_not_told_as_too_few(self) -> None:
        said = second_line(judge(record(plan("hidden-reference", 8), [[WRONG] * 8])))
        assert "grades below the other on average, on the other side than planned." in said
        assert "not enough" not in said

    @pytest.mark.parametrize("trials", [6, 8])
    def test_where_no_quality_grades_could_have_been_enough_it_says_so(self, trials: int) -> None:
        """Three setups are three pairs: with Holm's correction the least p is three times that of one of them."""
        least = 3 * multi_stimulus.permutation_test([100.0] * trials, [20.0] * trials)
        found = judge(record(plan("multi-stimulus", trials), [[NEITHER] * trials]))
        said = second_line(found)
        assert ("no grades would have been enough with so few trials" in said) == (least > 0.05)
        assert ("no two were graded clearly enough apart" in said) == (least <= 0.05)

    @pytest.mark.parametrize("trials", [3, 12])
    def test_where_no_choices_of_many_could_have_been_enough_it_says_so(self, trials: int) -> None:
        """Three comparisons of three setups go 8 ways, of which 6 are as uneven as can be: p is 0.75 at best."""
        found = judge(record(plan("round-robin", trials), [([RIGHT, WRONG] * 6)[:trials]]))
        assert found.verdict == "not shown"
        assert ("no choices would have been enough with so few comparisons" in second_line(found)) == (trials == 3)

    def test_a_side_foreseen_is_named_with_what_was_needed(self) -> None:
        assert "; 9 for sallow were needed." in second_line(preference([[WRONG] * 10], 10, one_sided=True))

    @pytest.mark.parametrize("method", ["multi-stimulus", "round-robin"])
    def test_what_others_take_away_is_said_of_every_method(self, method: str) -> None:
        trials = 12
        heard, other = (
            judge(record(plan(method, trials, name=name), [how]))
            for name, how in (("first", [RIGHT] * trials), ("second", [RIGHT, WRONG] * (trials // 2)))
        )
        lost = judged_together([replace(heard, outcome=replace(heard.outcome, p_value=0.04)), other])[0]
        assert lost.verdict == "not shown"
        assert "by itself that is enough, taken together with the other plans it is not" in second_line(lost)


@pytest.mark.parametrize("method", ["abx", "hidden-reference"])
def test_a_rehearsal_under_way_has_the_trials_of_one_listener(method: str) -> None:
    found = judge(record(plan(method, 8, listeners=2), [[RIGHT] * 3], over=False, rehearsal=True))
    assert "3 of 8 trials answered" in sentences.result(found)[0]
    running = judge(record(plan(method, 8, listeners=2), [[RIGHT] * 3], over=False))
    assert "3 of 16 trials answered" in sentences.result(running)[0]


@pytest.mark.parametrize(
    ("said", "meaning"),
    [
        ("proportion 0.45 to 0.84 (95 % exact)", "in at least 95 of 100 tests"),
        ("in 6 of 6 trials (95 % exact interval 0.54 to 1.00", "in at least 95 of 100 tests"),
        ("in up to 64 % of the trials (95 % confidence)", "in at least 95 of 100 tests"),
        ("it rules out (95 %) that it is truly heard", "in at least 95 of 100 tests"),
        ("can hear it (95 % for both bounds together)", "in at least 95 of 100 tests"),
        ("0.45 to 0.84 (95 % at any stopping)", "in at least 95 of 100 tests, whenever one of them stops"),
        ("grade -0.50 (95 % -0.90 to -0.10)", "in about 95 of 100 tests"),
    ],
)
def test_an_interval_that_is_exact_holds_the_true_value_at_least_so_often(said: str, meaning: str) -> None:
    """Clopper and Pearson's interval covers at least its level (Brown, Cai and DasGupta 2001; from memory)."""
    [line] = [line for line in terms.explained([said]) if line.startswith("95 %")]
    assert line.endswith(meaning)


class TestPlansThatTakeNoPart:
    def of(self, name: str, course: Course, answers: list[str], method: str = "abx", **stated: object) -> Verdict:
        return replace(judge(record(plan(method, 8, name=name, stated=stated), [answers])), course=course)

    def test_a_void_plan_is_not_counted_among_those_taken_together(self) -> None:
        first = self.of("first", Course(1, begun=4, over=5), [*[RIGHT] * 7, WRONG])
        other = self.of("other", Course(2, begun=6, over=7), [RIGHT] * 8, "triangle")
        void = self.of("loud", Course(3, begun=8, over=9), [RIGHT] * 8, "duo-trio", **TOO_LOUD)
        found = judged_together([first, other, void])
        said = sentences.numbers(found[0])
        assert any(line.startswith("With the 2 primary questions of this review together") for line in said)
        assert "Left out of the primary questions: loud (void)." in said
        assert found[0].to_document()["together"]["primary_plans"] == 2
        assert not any("primary questions" in line for line in sentences.numbers(found[2]))

    def test_where_the_others_are_void_nothing_is_taken_together(self) -> None:
        first = self.of("first", Course(1, begun=3, over=4), [*[RIGHT] * 7, WRONG])
        void = self.of("loud", Course(2, begun=5, over=6), [RIGHT] * 8, **TOO_LOUD)
        found, _ = judged_together([first, void])
        said = sentences.numbers(found)
        assert "Left out of the primary questions: loud (void)." in said
        assert "The same question was also asked in loud (void), left out of what is judged together." in said
        assert not any("Holm" in line for line in said)
        assert (found.verdict, found.together.p_holm, found.together.p_same_question) == ("heard", None, None)

    def test_a_headline_counts_only_the_plans_on_its_question_that_take_part(self) -> None:
        first = self.of("first", Course(1, begun=4, over=5), [*[RIGHT] * 7, WRONG])
        second = self.of("second", Course(2, begun=6, over=7), [RIGHT, WRONG] * 4)
        void = self.of("loud", Course(3, begun=8, over=9), [RIGHT] * 8, **TOO_LOUD)
        found = judged_together([first, second, void])[0]
        assert found.verdict == "not shown"  # 2 times 9/256
        said = sentences.result(found)
        assert "the 2 plans that ask this question taken together" in said[0]
        [line] = [line for line in said if line.startswith("The same question was also asked in second ")]
        assert line.endswith("Left out: loud (void).")


class TestStrips:
    @pytest.mark.parametrize(("how", "said"), [(RIGHT, "rightly"), (WRONG, "wrongly")])
    @pytest.mark.parametrize("method", ["abx", "same-different", "hidden-reference"])
    def test_one_trial_of_a_known_difference_is_told_as_answered_not_as_heard(
        self, method: str, how: str, said: str
    ) -> None:
        made = plan(method, 8, stated=STEP)
        marks = [one for strip in trial_strips.of(record(made, [[RIGHT] * 8], known=[how] * 6)) for one in strip.marks]
        known = [one.says for one in marks if one.state == "known"]
        assert len(known) == 6
        assert all(f"the known difference, answered {said}, sureness" in one for one in known)


def graded(pairs: list[tuple[Decimal, Decimal]], trials: int) -> Verdict:
    """A hidden-reference plan's verdict: these grades of the reference and the other first, then both alike."""
    made = plan("hidden-reference", trials)
    return judge(regraded(made, record(made, [[NEITHER] * trials]), pairs))


def regraded(made: Plan, kept: PlanRecord, pairs: list[tuple[Decimal, Decimal]]) -> PlanRecord:
    """The record with these grades in its first trials."""
    [session] = kept.sessions
    given = iter(pairs)
    trials = []
    for one in session.trials:
        pair = next(given, None)
        trials.append(
            one
            if pair is None
            else replace(one, answer=answer_of({label: pair[one.key[label]] for label in made.method.graded}))
        )
    return replace(kept, sessions=(replace(session, trials=tuple(trials)),))
