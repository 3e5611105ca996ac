"""The pictures of results: no dot behind another or behind a bar, criteria on both sides."""

from __future__ import annotations

import re
from itertools import combinations
from math import hypot

import pytest

from sessions.report import count_pictures, grade_pictures, result_pictures
from sessions.report.svg import LEFT, LETTER, WIDE, WIDTH, heaped
from sessions.results.verdict import judge
from tests.records import NEITHER, RIGHT, WRONG, plan, record

CIRCLE = re.compile(r'<circle[^>]*cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)"')


@pytest.mark.parametrize("answers", [[RIGHT] * 16, [RIGHT] * 8 + [NEITHER] * 8, [WRONG, RIGHT, NEITHER, RIGHT] * 4])
def test_a_picture_of_grades_hides_none_of_its_dots(answers: list[str]) -> None:
    found = judge(record(plan("hidden-reference", 16), [answers])).outcome
    drawn = grade_pictures.difference_grades(found)  # type: ignore[arg-type]
    circles = [(float(x), float(y), float(r)) for x, y, r in CIRCLE.findall(drawn)]
    assert len(circles) == 16 + 1 + 1  # each trial, the mean of all, the listener's
    for (x, y, r), (u, v, q) in combinations(circles, 2):
        assert hypot(x - u, y - v) >= r + q
    bars = [float(y) for y in re.findall(r'd="M[\d.]+ ([\d.]+) H[\d.]+" stroke="#0b6e6e" stroke-width="5"', drawn)]
    assert all(y + r < min(bars, default=1e9) - 2.5 for _, y, r in circles[:16])
    height = float(re.findall(r'viewBox="0 0 \d+ (\d+)"', drawn)[0])
    assert all(0 < y - r < y + r < height for _, y, r in circles)


def test_dots_are_heaped_only_where_they_would_cover_each_other() -> None:
    put, levels = heaped([0.0, 10.0, 3.0, 0.0], 3.0)
    assert put == [(0.0, 0), (0.0, 1), (3.0, 2), (10.0, 0)]
    assert levels == 3


def criteria(drawn: str) -> list[float]:
    """Where on the scale from 0 to 1 the triangles of a criterion stand."""
    marks = re.findall(r'class="criterion" d="M([\d.]+) ', drawn)
    return sorted(round((float(x) - LEFT) / WIDE, 3) for x in marks)


@pytest.mark.parametrize(("one_sided", "where"), [(False, [0.1, 0.9]), (True, [0.9])])
def test_a_criterion_that_either_setup_can_reach_stands_on_both_sides(one_sided: bool, where: list[float]) -> None:
    """9 of 10: two-sided binomial p of 9 is 22/1024, of 8 it is 112/1024; one-sided 11/1024 and 56/1024."""
    found = judge(record(plan("preference", 10, one_sided=one_sided), [[RIGHT, WRONG] * 5]))
    pictures = result_pictures.of(found)
    drawn = pictures[0].draw()
    assert criteria(drawn) == where
    assert ("either setup" in pictures[0].caption) == (not one_sided)
    assert ("all for bracken" in drawn) == (not one_sided)


@pytest.mark.parametrize("trials", [8, 10, 16, 24, 60])
@pytest.mark.parametrize("method", ["abx", "preference", "triangle"])
def test_the_words_of_a_criterion_stand_inside_and_off_the_line_of_chance(method: str, trials: int) -> None:
    found = judge(record(plan(method, trials), [[RIGHT, WRONG] * (trials // 2)]))
    chance_x = LEFT + WIDE * float(found.plan.chance)
    words = re.findall(
        r'<text x="([\d.]+)" y="[\d.]+" class="k" text-anchor="(\w+)">(criterion \d+)',
        result_pictures.of(found)[0].draw(),
    )
    assert len(words) == (2 if method == "preference" else 1)
    for x, anchor, said in words:
        ends = sorted((float(x), float(x) + (1 if anchor == "start" else -1) * LETTER * len(said)))
        assert 0 <= ends[0] < ends[1] <= WIDTH
        assert ends[1] < chance_x or ends[0] > chance_x


def test_a_criterion_of_right_answers_stands_on_its_one_side() -> None:
    drawn = result_pictures.of(judge(record(plan("abx", 10), [[RIGHT, WRONG] * 5])))[0].draw()
    assert criteria(drawn) == [0.9]


def test_rates_show_only_the_kinds_of_trials_that_there_were() -> None:
    from stats.same_different import SameDifferent

    cells = SameDifferent(3, 4, 0, 0, 0.75, 0.0, 1.0, 1.0, 0.0, 0.0, True, 1.0)
    drawn = count_pictures.rates(cells)
    assert "different trials: 3 of 4" in drawn
    assert "same trials" not in drawn
