"""Simulated listeners and sessions: real keys, real scoring, the planned test of each method. No sound, no casebook.

A listener who hears nothing answers by habit; whatever the habit, the planned test must find them at most as often as
its error rate says. A listener who hears it must be found as often as the plan's power promises.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import numpy as np

from sessions.listening.simulated_listener import answer_to
from sessions.plans import planned_test, trial_keys
from sessions.plans.methods import METHODS, Key, Method, answer_of
from sessions.plans.plan import Plan
from sessions.results import discrimination, paired_comparison, ratings
from sessions.results.answers import Answered, Sheet
from sessions.results.outcome import Finding

FAMILIES = {"count": discrimination.found, "grades": ratings.found, "pairs": paired_comparison.found}
Habit = Callable[[list[str], list[str], list[str], int, int, np.random.Generator], str]
"""What a listener says: from the answers possible, their own so far, what was right so far (worst case: they are told),
the number of the trial, all trials, and chance."""


def fair(answers: list[str], said: list[str], was: list[str], n: int, trials: int, rng: np.random.Generator) -> str:
    """Guess evenly."""
    return answers[int(rng.integers(len(answers)))]


def one_sided(
    answers: list[str], said: list[str], was: list[str], n: int, trials: int, rng: np.random.Generator
) -> str:
    """Lean to the first answer, four times in five."""
    return answers[0] if rng.random() < 0.8 else fair(answers, said, was, n, trials, rng)


def streaky(answers: list[str], said: list[str], was: list[str], n: int, trials: int, rng: np.random.Generator) -> str:
    """Say again what was said last, four times in five."""
    return said[-1] if said and rng.random() < 0.8 else fair(answers, said, was, n, trials, rng)


def tiring(answers: list[str], said: list[str], was: list[str], n: int, trials: int, rng: np.random.Generator) -> str:
    """Guess evenly at first, and say the first answer ever more often."""
    return answers[0] if rng.random() < n / trials else fair(answers, said, was, n, trials, rng)


def balancing(
    answers: list[str], said: list[str], was: list[str], n: int, trials: int, rng: np.random.Generator
) -> str:
    """Told after each trial what was right, say what was right least often so far: it should be due."""
    return min(answers, key=lambda answer: (was.count(answer), rng.random()))


HABITS: dict[str, Habit] = {
    "fair": fair,
    "one-sided": one_sided,
    "streaky": streaky,
    "tiring": tiring,
    "balancing": balancing,
}


def plan(method: str, trials: int, rule: str = planned_test.FIXED, effect: str = "", alpha: str = "0.05") -> Plan:
    """A plan as it would be sealed, without a casebook."""
    found = METHODS[method]
    setups = [{"setup": f"setup-{n}", "name": f"setup {n}"} for n in range(3 if found.setups[1] > 2 else 2)]
    numbers = planned_test.Numbers(trials, alpha, effect or planned_test.usual_effect(found), rule=rule)
    document: dict[str, Any] = {
        "plan": "plan-x",
        "name": method,
        "method": method,
        "setups": setups,
        "passages": [{"passage": "p", "name": "p"}],
        "listeners": [{"listener": "listener-a", "name": "Ada"}],
        "trials": trials,
        "controls": 0,
    }
    if method == "multi-stimulus":
        document["anchors"] = [{"name": "low", "anchor": "low"}, {"name": "mid", "anchor": "mid"}]
    return Plan(document | planned_test.stated(found, numbers, len(setups)))


def session(made: Plan, habit: Habit, hears: Callable[[int], float], rng: np.random.Generator) -> Finding:
    """One session of a listener who hears it with probability `hears` in each trial and answers by habit otherwise."""
    secret, method, region = rng.bytes(32), made.method, made.boundaries
    answered: list[Answered] = []
    said: list[str] = []
    was: list[str] = []
    right = 0
    for n in range(1, made.trials + 1):
        key = trial_keys.key(made.document, secret, "listener-a", n, 1)
        heard = bool(rng.random() < hears(n))
        answer = answer_to(made, key, True, rng) if heard else _guess(made, key, habit, said, was, n, rng)
        answered.append(Answered(n, key, answer, 1, 5000, "p", 2, ()))
        if region is not None:
            right += discrimination.scores(made, answered[-1:])[0]
            if region.decision(n, right) is not None:
                break
        if method.answers:
            said.append(answer)
            was.append(answer_to(made, key, True, rng))
    return FAMILIES[method.family](made, [Sheet("Ada", made.trials, answered, [])], made.trials)


def _guess(
    made: Plan, key: Key, habit: Habit, said: list[str], was: list[str], n: int, rng: np.random.Generator
) -> str:
    if made.method.answers:
        return habit(list(made.method.answers), said, was, n, made.trials, rng)
    return answer_of(_grades(made.method, key, len(made.setups), habit, n, made.trials, rng))


def _grades(
    method: Method, key: Key, setups: int, habit: Habit, n: int, trials: int, rng: np.random.Generator
) -> dict[str, Decimal]:
    """Grades of someone who cannot tell the setups apart: by habit of place, with noise; anchors are plain."""
    scale = method.scale
    assert scale is not None
    graded = list(method.graded)
    favoured = habit(graded, [], [], n, trials, rng)
    steps = int((scale.high - scale.low) / scale.step)
    given = {label: scale.low + int(rng.integers(steps // 2, steps)) * scale.step for label in graded}
    for label in graded:
        if key[label] >= setups:
            given[label] = scale.low + steps // 5 * scale.step
    own = [label for label in graded if key[label] < setups]
    best = favoured if favoured in own else own[int(rng.integers(len(own)))]
    if method.name == "multi-stimulus":  # keeps to the scale's upper end, so that post-screening keeps them
        given |= {label: Decimal(90 + int(rng.integers(0, 10))) for label in own}
    return given | {best: scale.high}
