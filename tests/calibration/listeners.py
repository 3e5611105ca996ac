"""Simulated listeners who hear nothing and answer by habit, in sessions with real keys. No sound, no casebook."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal
from enum import StrEnum
from functools import lru_cache

from numpy.random import Generator
from scipy.stats import binom

from sessions.listening.simulated_listener import answer_to
from sessions.plans import trial_keys
from sessions.plans.methods.counted import CountedMethod
from sessions.plans.methods.graded import GradedMethod, answer_of
from sessions.plans.methods.method import TIE, Key
from sessions.plans.methods.word_ballot import WordBallot
from sessions.plans.plan import Plan
from tests.calibration.habits import Habit, Moment

PASSAGES = 2
MOST_OFFERS = 3
LEFT_EVERY = 4  # trials, by who leaves and comes back


class Course(StrEnum):
    """How a session goes."""

    WHOLE = "all answered"
    CLOSED_AHEAD = "closed when ahead"
    CLOSED_SOON = "closed after a few"
    DISTURBED = "disturbed on purpose"
    RESUMED = "left and resumed"


def answers(
    made: Plan, habit: Habit, rng: Generator, hears: float = 0.0, course: Course = Course.WHOLE
) -> list[tuple[Key, str]]:
    """One session's keys and answers.

    Parameters
    ----------
    hears
        The probability with which it is heard in each trial, instead of answered by habit.
    course
        `CLOSED_AHEAD`: closed, by who knows the count, as soon as a test of the answered trials alone would show it;
        `CLOSED_SOON`: closed after some number of trials. `DISTURBED`: whoever would give the first answer has the
        trial disturbed, twice at most, so that it is offered again with another key. `RESUMED`: left and resumed in
        every trial, with all that was said and right forgotten now and then.
    """
    secret, method = rng.bytes(32), made.method
    given: list[tuple[Key, str]] = []
    said: list[str] = []
    was_right: list[str] = []
    here: dict[int, list[str]] = defaultdict(list)
    right = chosen = 0
    most = int(rng.integers(0, made.trials)) if course is Course.CLOSED_SOON else made.trials
    for n in range(1, most + 1):
        passage = trial_keys.passage_index(secret, "listener-a", n, PASSAGES)
        now = Moment(list(method.answers), said, was_right, here[passage], n / made.trials)
        key, answer = _answered(made, secret, n, now, habit, rng, hears, course)
        given.append((key, answer))
        said.append(answer)
        if isinstance(method, CountedMethod):
            truth = method.right_answer(key) or next(one for one in method.answers if method.score(key, one))
            was_right.append(truth)
            here[passage].append(truth)
            if answer != TIE:
                right, chosen = right + method.score(key, answer), chosen + 1
            if made.sequential is not None and made.sequential.boundaries.decision(n, right) is not None:
                break
            if course is Course.CLOSED_AHEAD and looks_won(made, right, chosen):
                break
        if course is Course.RESUMED and n % LEFT_EVERY == 0:
            said, was_right, here = [], [], defaultdict(list)
    return given


def _answered(
    made: Plan, secret: bytes, n: int, now: Moment, habit: Habit, rng: Generator, hears: float, course: Course
) -> tuple[Key, str]:
    """The key and the answer of a trial, at the offer that is answered."""
    for offer in range(1, MOST_OFFERS + 1):
        key = trial_keys.key(made, secret, "listener-a", n, offer)
        if course is Course.RESUMED:
            assert trial_keys.key(made, secret, "listener-a", n, offer) == key
        if hears and rng.random() < hears:
            return key, answer_to(made, key, True, rng)
        if isinstance(made.method, GradedMethod):
            answer = answer_of(grades(made.method, key, len(made.setups), habit, now, rng))
            unwanted = rng.random() < 0.5
        elif isinstance(made.method, WordBallot):
            answer = made.method.answer_of(ticks(made.method, habit, now, rng))
            unwanted = rng.random() < 0.5
        else:
            answer = habit(now, rng)
            unwanted = answer == now.possible[0]
        if course is not Course.DISTURBED or not unwanted:
            break
    return key, answer


def looks_won(made: Plan, right: int, trials: int) -> bool:
    """Whether a test of the answered trials alone, as if so many had been planned, would reach alpha."""
    count = max(right, trials - right) if made.alternative == "two-sided" else right
    twice = 2 if made.alternative == "two-sided" else 1
    return trials > 0 and twice * _tail(count, trials, made.chance) <= made.alpha


@lru_cache(maxsize=10_000)
def _tail(count: int, trials: int, chance: float) -> float:
    return float(binom.sf(count - 1, trials, chance))


def grades(
    method: GradedMethod, key: Key, setups: int, habit: Habit, now: Moment, rng: Generator
) -> dict[str, Decimal]:
    """Grades of someone who cannot tell the setups apart: by habit of place, with noise; anchors are plain."""
    scale = method.scale
    own = [label for label in method.graded if key[label] < setups]
    said = [one for one in now.said if one in own]
    favoured = habit(Moment(own, said, along=now.along), rng)
    steps = int((scale.high - scale.low) / scale.step)
    least = 9 * steps // 10 if method.anchors_hz else steps // 2  # post-screening keeps who keeps to the upper end
    given = {label: scale.low + int(rng.integers(least, steps)) * scale.step for label in own}
    anchors = {label: scale.low + steps // 5 * scale.step for label in method.graded if label not in own}
    return given | anchors | {favoured: scale.high}


def ticks(method: WordBallot, habit: Habit, now: Moment, rng: Generator) -> dict[str, list[str]]:
    """Ticks of someone who cannot tell the two apart: each word of one, by habit of place, of both or of neither."""
    own = Moment(list(method.needed), along=now.along)
    given: dict[str, list[str]] = {label: [] for label in method.needed}
    for word in method.words:
        of_one, of_all = rng.random() < 0.7, rng.random() < 0.5
        favoured = habit(own, rng)
        for label, said in given.items():
            if label == favoured if of_one else of_all:
                said.append(word)
    return given
