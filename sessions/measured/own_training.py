"""How a run of training goes on, and where it settled: its answers worked through by the up-down rule. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stats.up_down import UpDown, course, settled

from ..casebook.threshold_rows import GivenAnswer
from ..casebook.training_rows import Exercise, KeptExercise


@dataclass(frozen=True)
class Trained:
    """What a run came to: trials, right ones, the smallest size named rightly, and about where it settled, in words."""

    trials: int
    right: int
    smallest: str
    settled: str


def rule_of(exercise: Exercise) -> UpDown:
    """The rule that a run goes by."""
    return UpDown(len(exercise.sizes), exercise.start, exercise.down, exercise.turns, exercise.most)


def next_size(exercise: Exercise, given: Sequence[GivenAnswer]) -> int | None:
    """The place among the sizes of what is to be played next; None at the end of the run."""
    found = course(rule_of(exercise), [one.right for one in given])
    return None if found.over else found.places[-1]


def faults(kept: KeptExercise) -> list[str]:
    """Where a run on record contradicts the rule by which it was played."""
    answers, exercise = kept.answers, kept.sought
    if kept.trials != tuple(range(1, len(answers) + 1)):
        return [f"its {len(answers)} answers are those of trials {', '.join(map(str, kept.trials))}"]
    for trial, one in enumerate(answers, 1):
        if not (0 <= one.changed < exercise.alternatives and 0 <= one.named < exercise.alternatives):
            return [f"trial {trial} has a presentation that is none of its {exercise.alternatives}"]
        led = next_size(exercise, answers[: trial - 1])
        if one.size != led:
            return [f"trial {trial} is of size number {one.size + 1}, where the answers before it lead elsewhere"]
    if kept.complete != (next_size(exercise, answers) is None):
        return [f"its {len(answers)} answers {'lead to another trial' if kept.complete else 'lead to its end'}"]
    return []


def trained(exercise: Exercise, given: Sequence[GivenAnswer]) -> Trained:
    """What the answers so far came to."""
    right = [one.size for one in given if one.right]
    mean = settled(rule_of(exercise), [one.right for one in given])
    return Trained(
        len(given),
        len(right),
        exercise.in_words(min(right)) if right else "",
        "" if mean is None else f"{_between(exercise, mean):.2g} {exercise.unit}",
    )


def _between(exercise: Exercise, place: float) -> float:
    """The size at a place that may lie between two."""
    low = min(int(place), len(exercise.sizes) - 2)
    share = place - low
    return (1 - share) * exercise.sizes[low] + share * exercise.sizes[low + 1]
