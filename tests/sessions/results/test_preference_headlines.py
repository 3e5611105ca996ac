"""What is read first of a preference: who preferred which to which, in how many trials, and never what is right."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from sessions.report.stills import verdict_still
from sessions.results import first_lines, sentences
from sessions.results.verdict import Together, Verdict, judge
from tests.records import NEITHER, RIGHT, WRONG, plan, record

NAMED = "evening: sallow against bracken: "


def judged(*answers: list[str], **numbers: Any) -> Verdict:
    made = plan("preference", len(answers[0]), listeners=len(answers), **numbers)
    return judge(record(made, answers))


def card(verdict: Verdict) -> list[str]:
    made = verdict_still.verdict_still(verdict, "a" * 64, "2026-05-01T10:00:00.000Z")
    return [one.get_text().replace("\n", " ") for one in made.figure.texts]


@pytest.mark.parametrize(
    ("answers", "numbers", "says"),
    [
        ([[RIGHT] * 14 + [WRONG] * 2], {}, "Ada preferred sallow to bracken in 14 of 16 trials"),
        ([[WRONG] * 14 + [RIGHT] * 2], {}, "Ada preferred bracken to sallow in 14 of 16 trials"),
        ([[RIGHT] * 14 + [WRONG] * 2], {"one_sided": True}, "Ada preferred sallow to bracken in 14 of 16 trials"),
        ([[RIGHT] * 8, [RIGHT] * 6 + [WRONG] * 2], {}, "Ada and Bo preferred sallow to bracken in 14 of 16 trials"),
        # every answer is one of the trials, a tie too, which is no preference for either
        ([[RIGHT] * 13 + [NEITHER] * 3], {"ties": "drop"}, "Ada preferred sallow to bracken in 13 of 16 trials"),
        ([[RIGHT] * 14 + [NEITHER] * 2], {"ties": "split"}, "Ada preferred sallow to bracken in 14 of 16 trials"),
    ],
)
def test_a_preference_that_was_shown_says_who_preferred_which_to_which_in_how_many(
    answers: list[list[str]], numbers: dict[str, Any], says: str
) -> None:
    found = judged(*answers, **numbers)
    first, second = first_lines.first_lines(found)
    assert first == f"{NAMED}a preference was SHOWN: {says}."
    assert " ".join([first, second, *sentences.result(found)[2:]]).find(" right") == -1
    above, state, *others = card(found)
    assert (above, state) == (says, "SHOWN")
    assert "HEARD" not in " ".join(others)


def test_of_another_question_it_is_told_which_one_was_chosen_and_not_that_it_was_preferred() -> None:
    made = plan("preference", 16, stated={"question": "Which has more bass?"})
    assert first_lines.first_lines(judge(record(made, [[WRONG] * 16])))[0] == (
        f"{NAMED}a preference was SHOWN: Ada chose bracken rather than sallow in 16 of 16 trials."
    )


def test_one_that_was_not_shown_says_how_often_each_was_chosen_and_by_whom() -> None:
    found = judged([RIGHT] * 8 + [WRONG] * 8)
    first, second = first_lines.first_lines(found)
    assert first == f"{NAMED}a preference was NOT SHOWN."
    assert second.startswith(
        "In 16 trials sallow was chosen 8 and bracken 8 times by Ada; 13 for one side were needed."
    )
    assert card(found)[:2] == ["A preference: sallow against bracken", "NOT SHOWN"]


def test_one_shown_on_its_own_alone_says_so_before_who_preferred_which() -> None:
    alone = replace(judged([WRONG] * 16), together=Together(primary_plans=2, p_holm=0.06, holds=False))
    assert first_lines.first_lines(alone)[0] == (
        f"{NAMED}a preference was SHOWN on its own, but not among the 2 primary questions taken together: "
        "Ada preferred bracken to sallow in 16 of 16 trials."
    )
    assert card(alone)[1] == "SHOWN ON ITS OWN"


def test_the_dots_of_a_card_are_those_of_the_one_preferred_and_what_was_needed_is_of_one_side() -> None:
    made = verdict_still.verdict_still(judged([WRONG] * 14 + [RIGHT] * 2), "a" * 64, "2026-05-01T10:00:00.000Z")
    dots = [line for line in made.figure.axes[0].lines if line.get_linestyle() == "None" and line.get_markersize() < 20]
    assert [one.get_fillstyle() for one in dots] == ["full"] * 14 + ["none"] * 2
    assert "13 for one side needed" in [one.get_text() for one in [*made.figure.texts, *made.figure.axes[0].texts]]
