"""A plan may be closed at any moment by somebody who knows how it stands: what is heard by guessing stays at alpha.

Exactly, and at its worst: after every trial the closer, who knows the count, goes on or closes, whichever makes it more
likely that the plan ends as heard. Whatever habit of closing there is can do no better.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import cache

import pytest

from sessions.plans import planned_test
from sessions.plans.methods.graded import GradedMethod, answer_of
from sessions.plans.methods.method import TIE, Key
from sessions.plans.plan import Plan
from tests.calibration.plans import judged, plan
from tests.calibration.test_counted import FIXED, PLANS, chance_of, outcome, outcomes
from tests.calibration.test_keys import every_key

Rule = Callable[[Plan, int, int, int], bool]
"""Whether a plan closed (or ended) with so many right, wrong and tied answers is heard."""


def now(made: Plan, right: int, wrong: int, ties: int = 0) -> bool:
    """The rule as it is."""
    if not right + wrong + ties:
        return False  # a plan without an answer has no outcome
    return outcome(made, (1,) * right + (0,) * wrong, ties).reached is True


def answered_alone(made: Plan, right: int, wrong: int, ties: int = 0) -> bool:
    """A rule that was not taken: as if the answered trials had been all that were planned."""
    return bool(right + wrong) and now(plan(made.method.name, right + wrong), right, wrong)


def missing_count_against(made: Plan, right: int, wrong: int, ties: int = 0) -> bool:
    """The rule of before: whatever was not answered counts as wrong, or as a choice of the second."""
    return now(made, right, made.trials - right)


def worst(made: Plan, rule: Rule) -> Fraction:
    """The greatest probability of being heard that any moment of closing gives to guesses."""
    chance = made.counted.numbers().chance

    @cache
    def from_here(right: int, wrong: int) -> Fraction:
        closed = Fraction(rule(made, right, wrong, 0))
        stops = made.sequential is not None and made.sequential.boundaries.decision(right + wrong, right)
        if right + wrong == made.trials or (right + wrong and stops):
            return closed
        return max(closed, chance * from_here(right + 1, wrong) + (1 - chance) * from_here(right, wrong + 1))

    return from_here(0, 0)


@pytest.mark.parametrize(("method", "trials", "rule"), PLANS)
def test_no_moment_of_closing_makes_a_guess_more_likely_to_be_heard(method: str, trials: int, rule: str) -> None:
    made, found = outcomes(method, trials, rule)
    whole = chance_of(found, made.counted.numbers().chance, "heard")
    assert worst(made, now) == whole <= Fraction(made.document["alpha"])


@pytest.mark.parametrize(("method", "trials"), FIXED)
def test_a_test_of_the_answered_trials_alone_would_be_found_here(method: str, trials: int) -> None:
    assert worst(plan(method, trials), answered_alone) > Fraction(3, 2) * Fraction(1, 20)


def test_counting_missing_trials_for_one_side_would_be_found_here() -> None:
    """Closed at once, all sixteen would count for the second: heard, for certain."""
    assert worst(plan("preference", 16), missing_count_against) == 1
    assert worst(plan("abx", 16), missing_count_against) <= Fraction(1, 20)  # one-sided it was too strict instead


@pytest.mark.parametrize("said", ["first", "last", "every other"])
@pytest.mark.parametrize("policy", ["drop", "split"])
def test_nor_does_it_with_ties_wherever_they_are_said(policy: str, said: str) -> None:
    """Which trials are ties hangs on nothing that is right or wrong: nobody hears anything."""
    made = plan("preference", 10, ties=policy)
    for number in range(0, 11, 2):
        tied = {
            "first": range(number),
            "last": range(10 - number, 10),
            "every other": range(0, 2 * number, 2),
        }[said]

        @cache
        def from_here(n: int, first: int, ties: int, tied: range = tied) -> Fraction:
            closed = Fraction(now(made, first, n - first - ties, ties))
            if n == 10:
                return closed
            if n in tied:
                return max(closed, from_here(n + 1, first, ties + 1))
            return max(closed, (from_here(n + 1, first + 1, ties) + from_here(n + 1, first, ties)) / 2)

        assert from_here(0, 0, 0) <= Fraction(1, 20)


@pytest.mark.parametrize(("method", "trials"), [("hidden-reference", 10), ("multi-stimulus", 8), ("round-robin", 12)])
def test_grades_and_pairs_closed_early_are_never_heard(method: str, trials: int) -> None:
    made = plan(method, trials)
    weighed = every_key(made.method, len(made.setups))
    key = next(key for _, key in weighed)
    said = best_answer(made, key)
    for answered in range(1, trials):
        found = judged(made, [(key, said)] * answered)
        assert (found.reached, found.p_value, found.complete) == (None, None, False)


def best_answer(made: Plan, key: Key) -> str:
    """What tells the plan's first setup from all others as plainly as can be."""
    method = made.method
    if not isinstance(method, GradedMethod):
        return next(answer for answer in method.answers if answer != TIE)
    return answer_of({label: method.scale.low if key[label] else method.scale.high for label in method.graded})


def test_a_sequential_plan_is_heard_at_its_boundaries_alone() -> None:
    made = plan("abx", 30, planned_test.SPRT)
    assert made.sequential is not None
    bounds = made.sequential.boundaries
    for n in range(1, made.trials + 1):
        assert now(made, n, 0) == (bounds.decision(n, n) == "heard")
        if bounds.decision(n, n) is not None:
            break
