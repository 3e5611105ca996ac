"""The short form of `simulate`: every method, habit and course, few sessions each; and what it would find.

What is exact stands beside this: `test_keys` (whatever the habit, a guess is right by fresh fair draws),
`test_counted`, `test_closing`, `test_graded_and_pairs`.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache

import pytest
from numpy.random import PCG64, Generator

from sessions.plans import randomisation, trial_keys
from sessions.plans.methods.method import Key
from sessions.plans.plan import Plan
from tests.calibration import listeners
from tests.calibration.habits import fair
from tests.calibration.listeners import Course
from tests.calibration.plans import judged, plan
from tests.calibration.simulate import EVERY_WAY, SETTINGS, Setting, allowed, simulated

ABX = Setting("abx", 16)


@pytest.mark.parametrize("setting", SETTINGS, ids=str)
def test_no_habit_and_no_course_is_heard_more_often_than_alpha(setting: Setting) -> None:
    rates = simulated(setting, len(EVERY_WAY))
    assert rates.beyond == []
    assert len(rates.sessions) == 1 + len({habit for habit, _ in EVERY_WAY}) + len(Course)


def test_who_hears_it_is_found_in_the_same_simulation() -> None:
    made = plan("abx", 16)
    rng = Generator(PCG64(5))
    found = [judged(made, listeners.answers(made, fair, rng, hears=1.0)).reached for _ in range(20)]
    assert all(found)


def dealt(made: Plan, secret: bytes, listener: str, trial: int, offer: int) -> Key:
    """A rule that was not taken: X is each of the two equally often, like cards of a shuffled pack."""
    half = made.trials // 2
    order = randomisation.permutation(secret, "x", listener, 1, 1, made.trials)
    return {"A": 0, "B": 1, "X": int(order[trial - 1] < half)}


def test_forced_balance_would_be_found_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who bets on what is due gets 12 of 16 with the probability counted here, of fair coins in 3.8 %."""

    @cache
    def chance_of_twelve(left: int, others: int, right: int) -> Fraction:
        """With so many trials left of the one that is due, and of the other."""
        if not left + others:
            return Fraction(right >= 12)
        if left < others:
            left, others = others, left
        found = Fraction(left, left + others) * chance_of_twelve(left - 1, others, right + 1)
        return found + (Fraction(others, left + others) * chance_of_twelve(left, others - 1, right) if others else 0)

    exact = float(chance_of_twelve(8, 8, 0))
    assert exact > 0.13
    sessions, betting = 400, [("balancing", Course.WHOLE)]
    drawn = simulated(ABX, sessions, betting)
    monkeypatch.setattr(trial_keys, "key", dealt)
    balanced = simulated(ABX, sessions, betting)
    assert drawn.beyond == []
    assert set(balanced.beyond) == {"all", "balancing", Course.WHOLE.value}
    assert balanced["all"] == pytest.approx(exact, abs=4 * (exact * (1 - exact) / sessions) ** 0.5)
    assert balanced["all"] > allowed(sessions)


@pytest.mark.parametrize("course", [Course.DISTURBED, Course.RESUMED])
def test_what_is_disturbed_has_another_coin_and_what_is_resumed_the_one_it_had(course: Course) -> None:
    made, secret = plan("abx", 16), bytes(range(32))
    offers = [[trial_keys.key(made, secret, "listener-a", n, offer)["X"] for n in range(1, 201)] for offer in (1, 2)]
    same = sum(one == two for one, two in zip(*offers, strict=True))
    assert 70 < same < 130  # fair coins: 100, 7 standard deviations of 7.07 beside it are 50
    assert simulated(ABX, 200, [("always the same", course)]).beyond == []
