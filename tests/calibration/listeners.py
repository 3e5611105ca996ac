"""Simulated listeners who hear nothing and answer by habit, in sessions with real keys. No sound, no casebook."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from numpy.random import Generator

from sessions.listening.simulated_listener import answer_to
from sessions.plans import trial_keys
from sessions.plans.methods.counted import CountedMethod
from sessions.plans.methods.graded import GradedMethod, answer_of
from sessions.plans.methods.method import Key
from sessions.plans.plan import Plan


@dataclass(frozen=True)
class Moment:
    """What a habit may go by: the answers possible, the listener's own so far, what was right so far, how far along.

    That they know what was right is the worst case: nobody is told.
    """

    possible: Sequence[str]
    said: Sequence[str]
    was_right: Sequence[str]
    along: float


Habit = Callable[[Moment, Generator], str]


def fair(now: Moment, rng: Generator) -> str:
    """Guess evenly."""
    return now.possible[int(rng.integers(len(now.possible)))]


def one_sided(now: Moment, rng: Generator) -> str:
    """Lean to the first answer, four times in five."""
    return now.possible[0] if rng.random() < 0.8 else fair(now, rng)


def streaky(now: Moment, rng: Generator) -> str:
    """Say again what was said last, four times in five."""
    return now.said[-1] if now.said and rng.random() < 0.8 else fair(now, rng)


def tiring(now: Moment, rng: Generator) -> str:
    """Guess evenly at first, and say the first answer ever more often."""
    return now.possible[0] if rng.random() < now.along else fair(now, rng)


def balancing(now: Moment, rng: Generator) -> str:
    """Say what was right least often so far: it should be due."""
    return min(now.possible, key=lambda answer: (now.was_right.count(answer), rng.random()))


HABITS: dict[str, Habit] = {
    "fair": fair,
    "one-sided": one_sided,
    "streaky": streaky,
    "tiring": tiring,
    "balancing": balancing,
}


def answers(made: Plan, habit: Habit, rng: Generator, hears: float = 0.0) -> list[tuple[Key, str]]:
    """One session's keys and answers: it is heard with probability `hears` in each trial, else answered by habit."""
    secret, method = rng.bytes(32), made.method
    given: list[tuple[Key, str]] = []
    said: list[str] = []
    was_right: list[str] = []
    right = 0
    for n in range(1, made.trials + 1):
        key = trial_keys.key(made, secret, "listener-a", n, 1)
        now = Moment(list(method.answers), said, was_right, n / made.trials)
        if hears and rng.random() < hears:
            answer = answer_to(made, key, True, rng)
        elif isinstance(method, GradedMethod):
            answer = answer_of(grades(method, key, len(made.setups), habit, now, rng))
        else:
            answer = habit(now, rng)
        given.append((key, answer))
        said.append(answer)
        if isinstance(method, CountedMethod):
            was_right.append(method.right_answer(key) or answer)
            right += method.score(key, answer)
            if made.sequential is not None and made.sequential.boundaries.decision(n, right) is not None:
                break
    return given


def grades(
    method: GradedMethod, key: Key, setups: int, habit: Habit, now: Moment, rng: Generator
) -> dict[str, Decimal]:
    """Grades of someone who cannot tell the setups apart: by habit of place, with noise; anchors are plain."""
    scale = method.scale
    own = [label for label in method.graded if key[label] < setups]
    favoured = habit(Moment(own, [], [], now.along), rng)
    steps = int((scale.high - scale.low) / scale.step)
    least = 9 * steps // 10 if method.anchors_hz else steps // 2  # post-screening keeps who keeps to the upper end
    given = {label: scale.low + int(rng.integers(least, steps)) * scale.step for label in own}
    anchors = {label: scale.low + steps // 5 * scale.step for label in method.graded if label not in own}
    return given | anchors | {favoured: scale.high}
