"""A plan closed early, against all that it could have been: no closing turns a result toward a claim."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import combinations_with_replacement, product
from typing import Any

import pytest

from sessions.plans.methods.table import METHODS
from sessions.plans.plan import Plan
from sessions.report import result_pictures
from sessions.results import sentences
from sessions.results.plan_record import PlanRecord
from sessions.results.together import judged_together
from sessions.results.verdict import Verdict, judge
from tests.records import NEITHER, RIGHT, WRONG, plan, record

COUNTED = [name for name, method in METHODS.items() if method.analysis == "count"]
OTHERS = [name for name in METHODS if name not in COUNTED]
ALPHA = "0.3"  # so that a few trials can show something
READINGS = ("p_value", "interval", "correct", "d_prime", "largest_difference_allowed", "preferred")


def possible(made: Plan) -> tuple[str, ...]:
    return (RIGHT, WRONG, NEITHER) if made.ties != "not offered" else (RIGHT, WRONG)


def fixed_plans(method: str) -> Iterator[Plan]:
    """Small plans of a counted method: one and two listeners, ties as they can be, a share to rule out."""
    shared: dict[str, Any] = {"alpha": ALPHA, "effect": "0.9"}
    for listeners, trials in ((1, 5), (2, 3)):
        if method != "preference":
            yield plan(method, trials, listeners=listeners, stated={"rule_out": "0.6"}, **shared)
            continue
        for ties, one_sided in product(("not offered", "drop", "split"), (False, True)):
            yield plan(method, trials, listeners=listeners, ties=ties, one_sided=one_sided, **shared)


def rows(made: Plan, number: int) -> list[tuple[str, ...]]:
    """A row of so many answers for each way they can be counted; their order says nothing."""
    return list(combinations_with_replacement(possible(made), number))


@cache
def whole(text: str, answers: tuple[tuple[str, ...], ...]) -> Verdict:
    made = Plan.from_text(text)
    return judge(record(made, answers))


def completions(made: Plan, answers: Sequence[Sequence[str]]) -> Iterator[Verdict]:
    """The verdicts on all that could have been answered in the missing trials, each listener's by themselves."""
    ends = [rows(made, made.trials - len(own)) for own in answers]
    for end in product(*ends):
        full = tuple(
            tuple(sorted([*own, *more], key=possible(made).index)) for own, more in zip(answers, end, strict=True)
        )
        yield whole(made.text, full)


@pytest.mark.parametrize("method", COUNTED)
def test_closing_says_nothing_that_any_completion_lacks(method: str) -> None:
    for made in fixed_plans(method):
        lengths = [*product(range(made.trials + 1), repeat=len(made.listeners))]
        for length in lengths:
            if sum(length) == made.total_trials or tuple(sorted(length)) != length:
                continue
            for answers in product(*(rows(made, own) for own in length)):
                check(made, answers)


def check(made: Plan, answers: Sequence[Sequence[str]]) -> None:
    found = judge(record(made, [own or None for own in answers]))
    where = f"{made.document['ties']} {made.alternative} {answers}"
    assert found.state == "closed early"
    if not any(answers):
        assert found.verdict == "undecided"
        assert [found.to_document()[name] for name in READINGS] == [None] * len(READINGS)
        return
    whole_ones = list(completions(made, answers))
    heard = [one.verdict == "heard" for one in whole_ones]
    assert found.verdict == ("heard" if all(heard) else "undecided" if any(heard) else "not shown"), where
    assert found.p_value is not None
    assert found.p_value == pytest.approx(max(one.p_value or 0.0 for one in whole_ones)), where
    if found.preferred is not None:
        assert {one.preferred for one in whole_ones} == {found.preferred}, where
    count = found.count
    assert count is not None
    assert count.interval is not None
    for one in whole_ones:
        assert one.count is not None
        if one.count.interval is not None:
            assert count.interval.low <= one.count.interval.low + 1e-12, where
            assert one.count.interval.high <= count.interval.high + 1e-12, where
        if one.count.largest_difference is not None:
            assert count.largest_difference is not None
            assert one.count.largest_difference <= count.largest_difference + 1e-12
    if ruled_out(found):
        assert all(ruled_out(one) for one in whole_ones), where
    assert count.d_prime is None


def ruled_out(found: Verdict) -> bool:
    similar = None if found.beside is None else found.beside.similarity
    return similar is not None and similar.planned is not None and similar.planned.holds


@pytest.mark.parametrize("method", OTHERS)
def test_grades_and_pairs_closed_early_have_no_verdict_and_no_test(method: str) -> None:
    made = plan(method, 6)
    for answered in range(6):
        found = judge(record(made, [[RIGHT] * answered]))
        assert (found.verdict, found.p_value) == ("undecided", None)
        assert not re.search(r"p [=<]", " ".join(sentences.sentences(found)))


@pytest.mark.parametrize("rule", ["sprt", "e-process"])
@pytest.mark.parametrize("method", COUNTED)
def test_a_sequential_plan_closed_before_its_boundary_has_no_verdict_and_no_test(method: str, rule: str) -> None:
    made = plan(method, 20, rule=rule)
    for answered in range(3):
        found = judge(record(made, [[RIGHT] * answered]))
        assert (found.verdict, found.p_value) == ("undecided", None)
        said = " ".join(sentences.sentences(found))
        assert "stopped by its" not in said
        assert not re.search(r"\bp [=<]", said.split("What follows")[0])


@pytest.mark.parametrize("rule", ["sprt", "e-process"])
@pytest.mark.parametrize("method", COUNTED)
def test_a_sequential_p_value_is_that_of_its_own_ordering(method: str, rule: str) -> None:
    """Over every way a plan of at most 12 trials can go; a fixed number of trials would give smaller ones."""
    made = plan(method, 12, rule=rule)
    for answers in ends(made):
        found = judge(record(made, [answers]))
        assert found.p_value is not None
        assert found.verdict != "heard" or found.p_value <= made.alpha, answers
        keeps_its_word(found, sentences.sentences(found))
        assert [one.p_value for one in found.outcome.listeners] == [found.p_value]  # type: ignore[union-attr]


def ends(made: Plan, so_far: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """One way to each end of a sequential plan: by its number of answers and its count."""
    rule = made.sequential
    assert rule is not None
    ways: dict[tuple[int, int], tuple[str, ...]] = {(0, 0): ()}
    for n in range(1, made.trials + 1):
        longer: dict[tuple[int, int], tuple[str, ...]] = {}
        for (_, right), way in ways.items():
            for how in (RIGHT, WRONG):
                longer[n, right + (how == RIGHT)] = (*way, how)
        ways = {}
        for (_, right), way in longer.items():
            if rule.boundaries.decision(n, right) is None:
                ways[n, right] = way
            else:
                yield way


def small_records() -> Iterator[PlanRecord]:
    """One to three listeners, none to three answers each, closed or whole, with controls, by passage."""
    for method, listeners, controls in product(METHODS, (1, 2, 3), (0, 1)):
        if controls and not METHODS[method].controls_possible:
            continue
        made = plan(method, 3, listeners=listeners, controls=controls, stated={"by_passage": True})
        hows = (RIGHT, WRONG) if listeners > 1 else (RIGHT, WRONG, NEITHER)
        for answers in combinations_with_replacement(range(-1, 4), listeners):
            for how in hows if made.ties != "not offered" or made.method.analysis != "count" else hows[:2]:
                yield record(made, [None if n < 0 else [how, RIGHT, how][:n] for n in answers])


def test_no_small_record_ends_in_an_error_or_says_more_than_it_can() -> None:
    number = 0
    for made in small_records():
        found = judged_together([judge(made)])[0]
        said = sentences.sentences(found)
        json.dumps(found.to_document(), allow_nan=False)
        for picture in result_pictures.of(found):
            picture.draw()
        keeps_its_word(found, said)
        number += 1
    assert number >= 1600


def keeps_its_word(found: Verdict, said: Sequence[str]) -> None:
    """What no verdict may say."""
    if not found.answered:
        assert [found.to_document()[name] for name in READINGS] == [None] * len(READINGS)
        assert not re.search(r"\d %|p [=<]|\d\.\d", " ".join(said)), said
    if found.verdict == "not shown" and found.p_value is not None and found.p_value <= found.plan.alpha:
        assert any("taken together" in line or "fixed beforehand decide" in line for line in said), said
    if found.answered < 5:
        assert not re.search(r"Bayesian|in the first half|median|truly heard in \d", " ".join(said)), said
