"""Whoever seals plans on one question until one is heard gains nothing: exactly, over all ends of four plans.

Four plans of sixteen trials of guessing, each of which comes to 12 (p .038), to 13 or more (p .011) or to less. After
each of them somebody looks; they are wrong if any look finds a plan heard.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import product
from math import comb, prod

import pytest

from sessions.plans.order_of_sealing import Course
from sessions.results.together import judged_together
from sessions.results.verdict import Verdict, judge
from tests.records import RIGHT, WRONG, plan, record

PLANS, TRIALS = 4, 16
ALPHA = Fraction(5, 100)
ENDS = {count: Fraction(comb(TRIALS, count), 2**TRIALS) for count in range(TRIALS + 1)}
CLASSES = {
    8: sum(ENDS[count] for count in range(12)),
    12: ENDS[12],
    13: sum(ENDS[count] for count in range(13, 17)),
}
"""A count that stands for all that are judged alike, and how likely one of those is."""


@cache
def ended(number: int, right: int, method: str) -> Verdict:
    """A plan that is over, judged by itself."""
    return judge(record(plan(method, TRIALS, name=f"plan {number}"), [[RIGHT] * right + [WRONG] * (TRIALS - right)]))


@cache
def sealed_alone(number: int, method: str) -> Verdict:
    """A plan that nobody began."""
    return judge(record(plan(method, TRIALS, name=f"plan {number}"), [None], over=False))


@cache
def unfinished(name: str, method: str, *, closed: bool) -> Verdict:
    """A plan with all answers but one, left open or closed."""
    made = plan(method, TRIALS, name=name)
    return judge(record(made, [[RIGHT, WRONG] * 7 + [RIGHT]], over=closed))


def looks(counts: Sequence[int], sealed_together: int, methods: Sequence[str]) -> list[list[Verdict]]:
    """What a review holds after each of the plans was run, one after the other.

    The first `sealed_together` are sealed at once, the others each after the one before it was run.
    """
    rows = [number if number < sealed_together else 100 * number for number in range(PLANS)]
    found = []
    for done in range(1, PLANS + 1):
        sealed = max(done, sealed_together)
        review = []
        for number in range(sealed):
            if number < done:
                one = ended(number, counts[number], methods[number])
                review.append(replace(one, course=Course(rows[number], 100 * number + 50)))
            else:
                review.append(replace(sealed_alone(number, methods[number]), course=Course(rows[number])))
        found.append(review)
    return found


def claims(one: Verdict) -> bool:
    """Whether the headline says that it was heard, and takes nothing away from it."""
    return one.verdict == "heard" and (one.together is None or one.together.holds is not False)


def chance_of_a_claim(
    sealed_together: int,
    methods: Sequence[str] = ("abx",) * PLANS,
    changed: Callable[[Verdict, int], Verdict] = lambda one, count: one,
    claimed: Callable[[Verdict], bool] = claims,
) -> Fraction:
    """How likely any look at any of the plans finds it heard; `changed` sees what a plan would come to."""
    total = Fraction(0)
    for counts in product(CLASSES, repeat=PLANS):
        reviews = [
            judged_together([changed(one, count) for one, count in zip(review, counts, strict=False)])
            for review in looks(counts, sealed_together, methods)
        ]
        if any(claimed(one) for review in reviews for one in review):
            total += prod((CLASSES[count] for count in counts), start=Fraction(1))
    return total


@pytest.mark.parametrize("methods", [("abx",) * PLANS, ("abx", "duo-trio", "abx", "same-different")])
@pytest.mark.parametrize("sealed_together", [1, 2, 3, 4])
def test_it_is_heard_by_chance_no_more_often_than_alpha(sealed_together: int, methods: Sequence[str]) -> None:
    error = chance_of_a_claim(sealed_together, methods)
    assert Fraction(1, 1000) < error <= ALPHA


def test_each_by_itself_would_be_found_here() -> None:
    """Without the correction: one of four."""

    def by_itself(one: Verdict) -> bool:
        alone = None if one.together is None else one.together.alone
        return (alone or one.verdict) == "heard"

    alone = chance_of_a_claim(1, claimed=by_itself)
    assert alone == 1 - CLASSES[8] ** PLANS
    assert alone > ALPHA


def test_correcting_for_those_alone_that_are_over_would_be_found_here() -> None:
    """The rule of before, which did not know the order of sealing: a first look has nothing to correct for."""
    unordered = chance_of_a_claim(1, changed=lambda one, _: replace(one, course=Course()))
    assert unordered > ALPHA


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("sealed_together", [1, 2])
def test_leaving_what_goes_badly_unfinished_gains_nothing(sealed_together: int, *, closed: bool) -> None:
    """At its worst: whoever does so knows how it would end, and leaves or closes all that would not be heard."""

    def left(one: Verdict, count: int) -> Verdict:
        if count >= 12 or one.state == "not begun":
            return one
        return replace(unfinished(one.plan.name, "abx", closed=closed), course=one.course)

    assert chance_of_a_claim(sealed_together, changed=left) <= ALPHA


def test_nor_does_closing_what_nobody_answered() -> None:
    """Sealed together, and as soon as one would be heard by itself the others are closed unanswered."""

    def closed(one: Verdict, count: int) -> Verdict:
        if one.state != "not begun":
            return one
        return replace(judge(record(one.plan, [None])), course=replace(one.course, over=1000))

    def forgotten(one: Verdict, count: int) -> Verdict:
        """As if they had been closed before any was begun."""
        return one if one.state != "not begun" else replace(closed(one, count), course=replace(one.course, over=0))

    assert chance_of_a_claim(4, changed=closed) <= ALPHA
    assert chance_of_a_claim(4, changed=forgotten) > ALPHA


@pytest.mark.parametrize("sealed_together", [1, 4])
def test_nor_does_spoiling_it(sealed_together: int) -> None:
    """A plan void by its record stands in the order; whoever would not be heard in it could spoil it."""

    def spoiled(one: Verdict, count: int) -> Verdict:
        if count >= 12 or one.state == "not begun":
            return one
        return replace(one, verdict="void", void_reasons=["row 7 was edited"])

    assert chance_of_a_claim(sealed_together, changed=spoiled) <= ALPHA
