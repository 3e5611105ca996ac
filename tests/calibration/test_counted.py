"""Counted methods, exactly: each possible outcome is judged once by its planned test and weighed by its probability.

Whatever a listener's habit, an answer that is guessed is right with the chance probability, in every trial afresh
(`test_keys`). So the error rate, the power and the coverage of a plan are sums over counts, not simulations.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from math import comb
from typing import Literal

import pytest
from scipy.stats import binomtest

from sessions.plans import planned_test, trial_keys
from sessions.plans.methods.method import TIE, Key
from sessions.plans.plan import Plan
from sessions.results.outcome import Discrimination
from tests.calibration.plans import judged, plan

SECRET = bytes(range(32))
FIXED = [("abx", 16), ("abx", 30), ("preference", 16), ("triangle", 12), ("duo-trio", 16), ("tetrad", 12),
         ("same-different", 16)]  # fmt: skip
SEQUENTIAL = [
    ("abx", 30, planned_test.SPRT),
    ("triangle", 24, planned_test.SPRT),
    ("preference", 30, planned_test.SPRT),
    ("abx", 30, planned_test.E_PROCESS),
    ("preference", 30, planned_test.E_PROCESS),
]
Path = tuple[int, ...]
"""Answers in order: 1 where it was right (or for the first setup)."""


def outcome(made: Plan, path: Path, ties: int = 0) -> Discrimination:
    """What the planned test finds in these answers, with real keys."""
    given: list[tuple[Key, str]] = []
    for n, right in enumerate((*path, *[None] * ties), 1):
        key = trial_keys.key(made, SECRET, "listener-a", n, 1)
        choices = [answer for answer in made.method.answers if answer != TIE]
        said = TIE if right is None else next(one for one in choices if made.counted.score(key, one) == right)
        given.append((key, said))
    found = judged(made, given)
    assert isinstance(found, Discrimination)
    return found


@cache
def outcomes(method: str, trials: int, rule: str) -> tuple[Plan, list[tuple[int, int, int, Discrimination]]]:
    """All ends of a plan: right answers, wrong ones, the number of orders that lead there, and what is found."""
    made = plan(method, trials, rule)
    return made, [(sum(path), len(path) - sum(path), ways, outcome(made, path)) for path, ways in ends(made)]


def ends(made: Plan) -> Iterator[tuple[Path, int]]:
    """One order for every count at which the plan ends, with the number of orders that lead there."""
    open_now: dict[int, tuple[Path, int]] = {0: ((), 1)}
    for n in range(1, made.trials + 1):
        reached: dict[int, tuple[Path, int]] = {}
        for path, ways in open_now.values():
            for right in (0, 1):
                longer = (*path, right)
                before = reached.get(sum(longer), (longer, 0))[1]
                reached[sum(longer)] = longer, before + ways
        rule = made.sequential
        over = {count for count in reached if n == made.trials or (rule and rule.boundaries.decision(n, count))}
        yield from (reached[count] for count in over)
        open_now = {count: reached[count] for count in reached if count not in over}


def chance_of(
    found: list[tuple[int, int, int, Discrimination]], share: Fraction, what: Literal["heard", "missed"]
) -> Fraction:
    """How likely the plan ends as heard, or with an interval that does not hold the true share."""
    return sum(
        (
            ways * share**right * (1 - share) ** wrong
            for right, wrong, ways, end in found
            if (end.reached if what == "heard" else end.interval and not end.interval.low <= share <= end.interval.high)
        ),
        Fraction(0),
    )


PLANS = [*((*row, planned_test.FIXED) for row in FIXED), *SEQUENTIAL]


@pytest.mark.parametrize(("method", "trials", "rule"), PLANS)
def test_who_hears_nothing_is_found_at_most_as_often_as_alpha_says(method: str, trials: int, rule: str) -> None:
    made, found = outcomes(method, trials, rule)
    error = chance_of(found, made.counted.numbers().chance, "heard")
    assert error <= Fraction(made.document["alpha"])
    if made.sequential is not None:
        assert float(error) == pytest.approx(float(made.sequential.behaviour.alpha_real), abs=5.1e-5)


@pytest.mark.parametrize(("method", "trials"), FIXED)
def test_no_smaller_count_could_show_it(method: str, trials: int) -> None:
    made, found = outcomes(method, trials, planned_test.FIXED)
    chance, alpha = made.counted.numbers().chance, Fraction(made.document["alpha"])
    heard = {right for right, _, _, end in found if end.reached}
    one_side = {right for right in heard if right > chance * trials}
    assert heard == (one_side | {trials - right for right in one_side} if method == "preference" else one_side)
    assert one_side == set(range(min(one_side), trials + 1))
    next_one = (
        comb(trials, min(one_side) - 1) * chance ** (min(one_side) - 1) * (1 - chance) ** (trials - min(one_side) + 1)
    )
    assert chance_of(found, chance, "heard") + next_one * (2 if method == "preference" else 1) > alpha


@pytest.mark.parametrize(("method", "trials", "rule"), PLANS)
def test_power_is_what_the_plan_promised(method: str, trials: int, rule: str) -> None:
    made, found = outcomes(method, trials, rule)
    reached = chance_of(found, Fraction(made.document["effect"]), "heard")
    assert float(reached) == pytest.approx(float(made.document["power"]), abs=5.1e-5)


@pytest.mark.parametrize("hears", [Fraction(0), Fraction(1, 5), Fraction(1, 2), Fraction(9, 10)])
@pytest.mark.parametrize(("method", "trials", "rule"), PLANS)
def test_intervals_cover_the_truth(method: str, trials: int, rule: str, hears: Fraction) -> None:
    made, found = outcomes(method, trials, rule)
    chance = made.counted.numbers().chance
    assert chance_of(found, chance + hears * (1 - chance), "missed") <= Fraction(1, 20)


@pytest.mark.parametrize(("method", "trials", "rule"), PLANS)
def test_a_p_at_or_below_alpha_and_heard_are_the_same(method: str, trials: int, rule: str) -> None:
    made, found = outcomes(method, trials, rule)
    real = made.alpha if made.sequential is None else float(chance_of(found, made.counted.numbers().chance, "heard"))
    level = made.alpha if rule == planned_test.E_PROCESS else real
    for *_, end in found:
        assert end.reached == (end.p_value <= level + 1e-12)


@pytest.mark.parametrize("one_sided", [False, True])
@pytest.mark.parametrize("policy", ["drop", "split"])
def test_ties_never_raise_the_error_rate_however_many_there_are(policy: str, one_sided: bool) -> None:
    """A choice that is no tie is a fair coin, however often and for whatever reason a tie was said before it."""
    trials = 15
    made = plan("preference", trials, ties=policy, one_sided=one_sided)
    for ties in range(trials + 1):
        choices = trials - ties
        heard = [outcome(made, (1,) * first + (0,) * (choices - first), ties).reached for first in range(choices + 1)]
        error = sum(Fraction(comb(choices, first), 2**choices) for first in range(choices + 1) if heard[first])
        assert error <= Fraction(made.document["alpha"]), f"{ties} ties"


@pytest.mark.parametrize(("policy", "first", "trials"), [("drop", 10, 12), ("split", 11, 15)])
def test_a_listeners_own_p_takes_the_ties_as_the_plan_does(policy: str, first: int, trials: int) -> None:
    """Of three ties that are split one goes to each side, and the odd one to the side with fewer choices."""
    own = outcome(plan("preference", 15, ties=policy), (1,) * 10 + (0,) * 2, ties=3).listeners[0]
    assert (own.correct, own.answered) == (first, 15)
    assert own.p_value == pytest.approx(binomtest(first, trials).pvalue)


def test_a_listeners_own_p_in_a_sequential_plan_is_that_of_its_stopping_rule() -> None:
    """The test of a fixed number of trials would find less likely by chance what the rule stopped at."""
    made = plan("abx", 30, planned_test.SPRT)
    path = next(path for path, _ in ends(made) if 5 < len(path) < 30)
    found = outcome(made, path)
    assert found.listeners[0].p_value == found.p_value
    assert found.p_value != pytest.approx(binomtest(sum(path), len(path), alternative="greater").pvalue)


@pytest.mark.parametrize(("first", "named"), [(14, "setup 0"), (2, "setup 1"), (8, None)])
def test_a_preference_that_was_heard_names_the_setup_preferred(first: int, named: str | None) -> None:
    made = plan("preference", 16)
    found = outcome(made, (1,) * first + (0,) * (16 - first))
    assert (found.preferred, found.ties) == (named, None)
    assert outcome(plan("abx", 16), (1,) * 14 + (0,) * 2).preferred is None


def test_a_sequential_plans_largest_difference_is_the_upper_end_of_its_own_interval() -> None:
    _, found = outcomes("triangle", 24, planned_test.SPRT)
    for *_, end in found:
        assert end.interval is not None
        assert end.largest_difference == pytest.approx(max(0.0, (end.interval.high - 1 / 3) / (2 / 3)))
