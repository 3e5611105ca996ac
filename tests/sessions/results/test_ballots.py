"""What a ballot of words comes to: exact numbers worked out by hand, flips, and what is said of them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from sessions.plans.plan import Plan
from sessions.report import result_pictures
from sessions.results import ballots, first_lines, how_answered, outcome_sentences, sentences
from sessions.results.answers import Answer, SessionAnswers
from sessions.results.ballot_outcomes import WordBallots
from sessions.results.verdict import judge
from tests.records import RIGHT, plan, record

NONE: Sequence[str] = ()


def answer(plan_of: Plan, key: Mapping[str, int], ticked: Sequence[Sequence[str]], trial: int = 1) -> Answer:
    """Ticks by place: the words of the first setup, those of the second; of a control by label."""
    by_label = {"1": ticked[0], "2": ticked[1]} if key["1"] == key["2"] else {
        label: ticked[place] for label, place in key.items()
    }  # fmt: skip
    text = json.dumps({label: [word for word in plan_of.method.listed if word in by_label[label]] for label in "12"})
    plan_of.method.check_answer(text)
    return Answer(trial, dict(key), text, 2, 4000, "strings 1", 2, ())


def analysed(
    made: Plan, counted: Sequence[Sequence[Sequence[str]]], same: Sequence[Sequence[Sequence[str]]] = ()
) -> WordBallots:
    """Of one listener; the setups are heard in turn as 1 and as 2."""
    keys = [{"1": n % 2, "2": 1 - n % 2} for n in range(len(counted))]
    given = SessionAnswers(
        "Ada",
        made.trials,
        tuple(answer(made, key, ticked) for key, ticked in zip(keys, counted, strict=True)),
        tuple(answer(made, {"1": n % 2, "2": n % 2}, ticked) for n, ticked in enumerate(same)),
    )
    return ballots.analyse(made, [given], made.trials)


def test_each_word_has_the_exact_p_and_holms_correction_worked_out_by_hand() -> None:
    """By hand: bright 9 to 0, p 2/512; boomy 1 to 8, p 2(1 + 9)/512; thin 3 to 1, p 2(1 + 4)/16; wide never, p 1.

    Of four words: 4·2/512; 3·20/512; 2·10/16 and so 1; 1.
    """
    made = plan("words", 12, controls=4)
    told = {"bright": (9, 0), "boomy": (1, 8), "thin": (3, 1)}
    trials = [
        [
            [word for word, (first, _) in told.items() if n < first],
            [word for word, (first, second) in told.items() if first <= n < first + second],
        ]
        for n in range(12)
    ]
    found = analysed(made, trials)
    assert [(one.first_only, one.second_only, one.both) for one in found.words] == [
        (9, 0, 0), (1, 8, 0), (3, 1, 0), (0, 0, 0),
    ]  # fmt: skip
    exact = [Fraction(2, 512), Fraction(20, 512), Fraction(10, 16), Fraction(1)]
    assert [one.p_value for one in found.words] == pytest.approx([float(p) for p in exact], abs=1e-12)
    corrected = [4 * exact[0], 3 * exact[1], Fraction(1), Fraction(1)]
    assert [one.p_holm for one in found.words] == pytest.approx([float(p) for p in corrected], abs=1e-12)
    assert found.p_value == pytest.approx(8 / 512, abs=1e-12)
    assert [one.word for one in found.separating(0.05)] == ["bright"]  # boomy: 0.039 alone, 0.117 among four words
    assert found.reached is True


def test_one_trial_is_told_in_the_singular() -> None:
    made = plan("words", 1, controls=1)
    said = " ".join(outcome_sentences.numbers(made, analysed(made, [[["bright"], NONE]], [[NONE, NONE]])))
    assert "Ticks of 1 trial, each word" in said
    assert "it was ticked of one alone in 0 of 1 trial (" in said
    assert "1 trials" not in said


def test_ticks_of_both_or_of_neither_say_nothing() -> None:
    made = plan("words", 12, controls=4)
    alone = [[["bright"], NONE]] * 6
    one = analysed(made, [*alone, *[[NONE, NONE]] * 6]).words[0]
    other = analysed(made, [*alone, *[[["bright"], ["bright"]]] * 6]).words[0]
    assert one.p_value == other.p_value == 2 / 2**6
    assert (one.both, other.both) == (0, 6)


def test_flips_are_counted_where_both_were_the_same_and_mark_a_word_that_changes_as_often_there() -> None:
    made = plan("words", 6, controls=4)
    counted = [[["bright", "thin"], NONE]] * 3 + [[NONE, NONE]] * 3
    same = [[["bright"], NONE], [NONE, ["bright"]], [["bright"], ["bright"]], [["thin"], NONE]]
    bright, boomy, thin, _ = analysed(made, counted, same).words
    for word, flips in ((bright, 2), (boomy, 0), (thin, 1)):
        assert word.flips is not None
        assert (word.flips.flips, word.flips.pairs) == (flips, 4)
    assert (bright.noisy, boomy.noisy, thin.noisy) == (True, False, False)  # 2 of 4 and 3 of 6; none; 1 of 4 and 3 of 6
    assert bright.flips is not None
    # exact ends of 2 of 4, Clopper and Pearson: the roots of 1 − (1−p)⁴ − 4p(1−p)³ = 0.025, and 1 less that
    low = bright.flips.interval.low
    assert 1 - (1 - low) ** 4 - 4 * low * (1 - low) ** 3 == pytest.approx(0.025, abs=1e-6)
    assert bright.flips.interval.high == pytest.approx(1 - low, abs=1e-6)
    said = sentences.numbers(judge(record(made, [[RIGHT] * 6])))
    assert "it was ticked of one alone in 0 of 4 trials (95 %: 0 % to 60 % of such trials)." in said[1]


def test_the_verdict_says_which_words_in_which_direction_how_often_and_of_whom() -> None:
    made = plan("words", 12)
    heard = judge(record(made, [[RIGHT] * 12]))
    first, second = first_lines.first_lines(heard)
    assert first == "evening: sallow against bracken: a difference was HEARD, in 2 words: bright and boomy."
    assert '"bright" was said of sallow more often, 12 to 0; "boomy" was said of bracken more often, 12 to 0' in second
    assert second.endswith("in about 2 of 1,000 such tests. This is about Ada alone.")  # 4 · 2 / 4096
    first, second = first_lines.first_lines(judge(record(made, [["right", "wrong"] * 6])))
    assert first == "evening: sallow against bracken: a difference was NOT SHOWN."
    assert "none of 4 words was said clearly more often" in second
    assert "does not show that they are equal" in second


def test_each_word_that_is_named_has_its_own_chance() -> None:
    """By hand: bright 24 to 0 has p 2/2^24; boomy 10 to 1 has p 2(1 + 11)/2^11 = 0.0117, thrice that of the others."""
    made = plan("words", 24)
    told = {"bright": (24, 0), "boomy": (1, 10)}
    trials = [
        [
            [word for word, (first, _) in told.items() if n < first],
            [word for word, (first, second) in told.items() if first <= n < first + second],
        ]
        for n in range(24)
    ]
    found = analysed(made, trials)
    said = how_answered.answered(found, replace(judge(record(made, [[RIGHT] * 24])), outcome=found))
    assert said.endswith(
        'chance alone makes any of 4 words as clear as "bright" in fewer than 1 of 10,000 such tests and any of the 3 '
        'others as clear as "boomy" in about 4 of 100'
    )


def test_opposite_listeners_separate_nothing_and_the_same_listeners_do() -> None:
    made = plan("words", 10, listeners=2)
    assert judge(record(made, [["right"] * 10, ["wrong"] * 10])).verdict == "not shown"
    assert judge(record(made, [["right"] * 10, ["right"] * 10])).verdict == "heard"


def test_a_ballot_closed_early_tells_its_ticks_and_decides_nothing() -> None:
    found = judge(record(plan("words", 12, controls=4), [[RIGHT] * 11]))
    assert isinstance(found.outcome, WordBallots)
    assert (found.verdict, found.p_value) == ("undecided", None)
    assert [one.first_only for one in found.outcome.words] == [11, 0, 0, 0]
    assert {one.p_holm for one in found.outcome.words} == {None}


def test_the_picture_has_a_bar_for_each_side_of_a_word_and_marks_what_was_heard() -> None:
    made = plan("words", 12, controls=4)
    (picture,) = result_pictures.of(judge(record(made, [[RIGHT] * 9 + ["wrong"] * 3])))
    drawn = picture.draw()
    assert drawn.count("<rect") == 4  # two words, either side
    assert ">-" not in drawn  # both sides are counted upward from the middle
    assert "bright: 9 to 3, flips 0 of 4<" in drawn
    (picture,) = result_pictures.of(judge(record(made, [[RIGHT] * 12])))
    assert "boomy: 0 to 12, flips 0 of 4 *<" in picture.draw()
