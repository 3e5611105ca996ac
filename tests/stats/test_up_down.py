"""The up-down rule: how sizes follow the answers, when it ends, and what it refuses."""

from __future__ import annotations

import pytest

from stats.errors import StatsError
from stats.up_down import UpDown, course, settled

RULE = UpDown(sizes=8, start=5, turns=4, most=20)


def places(text: str, rule: UpDown = RULE) -> tuple[int, ...]:
    return course(rule, [letter == "r" for letter in text]).places


@pytest.mark.parametrize(
    ("answers", "expected"),
    [
        ("", (5,)),
        ("rr", (5, 4, 3)),  # before the first wrong one each right one makes it smaller
        ("rw", (5, 4, 5)),
        ("rwr", (5, 4, 5, 5)),  # from then on two are needed
        ("rwrr", (5, 4, 5, 5, 4)),
        ("rwrwrr", (5, 4, 5, 5, 6, 6, 5)),  # a wrong one between begins the count anew
        ("rrrrrrr", (5, 4, 3, 2, 1, 0, 0, 0)),  # at the smallest it stays
        ("wwww", (5, 6, 7, 7, 7)),
    ],
)
def test_sizes_follow_the_answers(answers: str, expected: tuple[int, ...]) -> None:
    assert places(answers) == expected


def test_it_ends_after_its_turns_or_its_trials_and_tells_the_mean_of_the_later_turns() -> None:
    told = [letter == "r" for letter in "rrwrrwrrw"]
    found = course(RULE, told)
    assert (found.turned_at, found.over) == ((3, 4, 3, 4, 3), True)
    assert settled(RULE, told) == 3.5  # of the turns at 3, 4, 3 without the first two: as many low as high
    assert not course(RULE, told[:6]).over
    assert settled(RULE, told[:6]) is None
    assert course(RULE, [True] * 20).over


def test_what_cannot_be_a_rule_is_refused() -> None:
    with pytest.raises(StatsError, match="two sizes or more"):
        UpDown(sizes=3, start=3)
    with pytest.raises(StatsError, match="1 at least"):
        UpDown(sizes=3, start=0, down=0)
