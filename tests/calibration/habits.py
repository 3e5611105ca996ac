"""How somebody who hears nothing may answer. Pure: a moment in, an answer out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from numpy.random import Generator

from sessions.plans.methods.method import TIE


@dataclass(frozen=True)
class Moment:
    """What a habit may go by.

    That they know what was right is the worst case: nobody is told.

    Attributes
    ----------
    possible
        The answers, a tie among them where it is offered.
    said, was_right
        The listener's own answers so far, and the right ones.
    right_here
        The right ones of the trials in which the same passage was played.
    along
        How far along the session is, up to 1.
    """

    possible: Sequence[str]
    said: Sequence[str] = ()
    was_right: Sequence[str] = ()
    right_here: Sequence[str] = ()
    along: float = 0.0

    @property
    def choices(self) -> list[str]:
        """The answers that are no tie."""
        return [answer for answer in self.possible if answer != TIE]

    def other_than(self, answer: str, rng: Generator) -> str:
        """One of the other choices."""
        others = [one for one in self.choices if one != answer]
        return others[int(rng.integers(len(others)))]


Habit = Callable[[Moment, Generator], str]


def fair(now: Moment, rng: Generator) -> str:
    """Guess evenly among all that can be answered."""
    return now.possible[int(rng.integers(len(now.possible)))]


def one_sided(now: Moment, rng: Generator) -> str:
    """Lean to the first answer, four times in five."""
    return now.possible[0] if rng.random() < 0.8 else fair(now, rng)


def always_the_same(now: Moment, rng: Generator) -> str:
    """Say the first answer in every trial."""
    return now.possible[0]


def alternating(now: Moment, rng: Generator) -> str:
    """Go round all answers."""
    return now.choices[len(now.said) % len(now.choices)]


def streaky(now: Moment, rng: Generator) -> str:
    """Say again what was said last, four times in five."""
    return now.said[-1] if now.said and rng.random() < 0.8 else fair(now, rng)


def opposite_of_last(now: Moment, rng: Generator) -> str:
    """Never say twice running the same."""
    return now.other_than(now.said[-1], rng) if now.said else fair(now, rng)


def win_stay(now: Moment, rng: Generator) -> str:
    """Stay with an answer that is imagined to have been right, and leave one that is not."""
    if not now.said:
        return fair(now, rng)
    return now.said[-1] if rng.random() < 0.5 else now.other_than(now.said[-1], rng)


def pattern(now: Moment, rng: Generator) -> str:
    """Say a pattern of six."""
    return now.choices[(0, 0, 1, 0, 1, 1)[len(now.said) % 6]]


def tiring(now: Moment, rng: Generator) -> str:
    """Guess evenly at first, and say the first answer ever more often."""
    return now.possible[0] if rng.random() < now.along else fair(now, rng)


def balancing(now: Moment, rng: Generator) -> str:
    """Say what was right least often so far: it should be due."""
    return min(now.choices, key=lambda answer: (now.was_right.count(answer), rng.random()))


def streak_hunter(now: Moment, rng: Generator) -> str:
    """Bet against whatever was right twice running."""
    if len(now.was_right) > 1 and now.was_right[-1] == now.was_right[-2]:
        return now.other_than(now.was_right[-1], rng)
    return fair(now, rng)


def counting_passages(now: Moment, rng: Generator) -> str:
    """Bet that a passage has each answer equally often: say what was right least often with the same one."""
    return min(now.choices, key=lambda answer: (now.right_here.count(answer), rng.random()))


def sure_or_unsure(now: Moment, rng: Generator) -> str:
    """Say the first answer when sure, which is a mood; otherwise leave it open where that can be, or guess."""
    if rng.random() < 0.5:
        return now.possible[0]
    return TIE if TIE in now.possible else fair(now, rng)


HABITS: dict[str, Habit] = {
    "fair": fair,
    "one-sided": one_sided,
    "always the same": always_the_same,
    "alternating": alternating,
    "streaky": streaky,
    "opposite of last": opposite_of_last,
    "win-stay": win_stay,
    "pattern": pattern,
    "tiring": tiring,
    "balancing": balancing,
    "streak hunter": streak_hunter,
    "counting passages": counting_passages,
    "sure or unsure": sure_or_unsure,
}
