"""Simulated listeners who hear a plan's known difference perfectly and answer all that counts by habit."""

from __future__ import annotations

import zlib

from numpy.random import PCG64, Generator

from sessions.plans import planned_test, trial_keys
from sessions.plans.methods.counted import CountedMethod
from sessions.plans.methods.graded import GradedMethod, answer_of
from sessions.plans.methods.method import Key
from sessions.plans.methods.table import METHODS
from sessions.plans.plan import Plan
from tests.calibration.habits import HABITS, Moment
from tests.calibration.listeners import grades
from tests.calibration.plans import judged, plan

KNOWN = {"known": {"trials": 12, "lift_hz": 2000, "lift_db": "1", "octaves": "1", "residual_lu": "0.0"}}
FITTING = [name for name, method in METHODS.items() if method.known_possible]
PLANS = [
    *((method, planned_test.FIXED) for method in FITTING),
    ("abx", planned_test.SPRT),
    ("abx", planned_test.E_PROCESS),
]


def answers(made: Plan, habit: str, rng: Generator) -> list[tuple[Key, str]]:
    """One session: right in every trial of the known difference, by habit in the others; ends where the plan does."""
    secret, method = rng.bytes(32), made.method
    given: list[tuple[Key, str]] = []
    counted: list[int] = []
    right_so_far: list[str] = []
    for trial in range(1, made.slots + 1):
        key = trial_keys.key(made, secret, "listener-a", trial, 1)
        now = Moment(list(method.answers), [said for _, said in given], right_so_far, along=trial / made.slots)
        if isinstance(method, GradedMethod):
            answer = answer_of(grades(method, key, 3 if made.is_known(key) else 2, HABITS[habit], now, rng))
        else:
            answer = HABITS[habit](now, rng)
        if made.is_known(key):
            answer = method.right_answer(key) or answer
        given.append((key, answer))
        right_so_far.append(method.right_answer(key) or answer)
        if isinstance(method, CountedMethod) and made.counts(key):
            counted.append(method.score(key, answer))
            if made.sequential and made.sequential.boundaries.decision(len(counted), sum(counted)) is not None:
                break
    return given


def rate(method: str, habit: str, rule: str, sessions: int) -> float:
    """How often the planned test finds something, with what counts alone."""
    bare = plan(method, 30 if rule != planned_test.FIXED else 16, rule)
    made = Plan(dict(bare.document) | KNOWN)
    rng = Generator(PCG64(zlib.crc32(f"{method}|{habit}|{rule}|known".encode())))
    found = 0
    for _ in range(sessions):
        given = answers(made, habit, rng)
        found += bool(judged(made, [one for one in given if made.counts(one[0])]).reached)
    return found / sessions
