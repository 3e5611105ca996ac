"""Simulated listeners of a known threshold in runs as they are at the chair. Nothing of them is kept; never counted.

How often their thresholds lie in the interval, slips or none, stands at `stats.adaptive_threshold.threshold`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING

from stats.adaptive_threshold import Answer, Search, Threshold, next_step, threshold

from ..errors import ListenError
from .threshold_sounds import ALTERNATIVES, BAND_DB, FEWEST, LEVEL, LEVEL_DB, MOST, PROPORTION, WIDTH

if TYPE_CHECKING:
    from numpy.random import Generator

MOST_RUNS = 1000
Range = tuple[float, str, float, float]
"""A number, the option that gives it, and from where to where it may lie."""


@dataclass(frozen=True)
class SimulatedListener:
    """Who notices `notices_db` in every second trial attended to, and more often the larger a change is (Weibull).

    `slips` is the share of trials in which the answer is blind whatever is played.
    """

    notices_db: float
    slope: float = 2.0
    slips: float = 0.0

    def right(self, size_db: float) -> float:
        """The share of right answers at a size: noticed, or guessed."""
        noticed = float((1 - self.slips) * (1 - 0.5 ** ((size_db / self.notices_db) ** self.slope)))
        return noticed + (1 - noticed) / ALTERNATIVES


@dataclass(frozen=True)
class Rehearsed:
    """What simulated runs found; `held` says in how many the interval held the true threshold."""

    found: tuple[Threshold, ...]
    held: int


def chair_search(*, level: bool) -> Search:
    """The search of a run at the chair, of a band or of a level."""
    return Search(LEVEL_DB if level else BAND_DB, ALTERNATIVES, PROPORTION, LEVEL, WIDTH, FEWEST, MOST)


def rehearse(search: Search, listener: SimulatedListener, runs: int, seed: int) -> Rehearsed:
    """So many runs of a simulated listener.

    Raises
    ------
    ListenError
        If a number is out of range.
    """
    ranges = ((listener.notices_db, "--notices", 0.01, 100.0), (listener.slope, "--slope", 0.3, 20.0))
    return runs_of(search, listener, runs, seed, ranges)


def runs_of(search: Search, listener: SimulatedListener, runs: int, seed: int, ranges: Iterable[Range]) -> Rehearsed:
    """So many runs of a simulated listener, whatever the search's steps are.

    `ranges` are those of the numbers by which the listener was given.

    Raises
    ------
    ListenError
        If one of them, or another number, is out of range.
    """
    import numpy as np

    alike = ((listener.slips, "--slips", 0.0, 1.0), (runs, "--runs", 1, MOST_RUNS), (seed, "--seed", 0, 2**63))
    for given, name, low, high in (*ranges, *alike):
        if not low <= given <= high:
            raise ListenError(f"{name} {given:g} is out of range; give {low:g} to {high:g}")
    smallest, largest = search.steps[0], search.steps[-1]
    rng = np.random.Generator(np.random.PCG64(seed))
    found = tuple(_run(search, listener, rng) for _ in range(runs))
    held = sum(holds(one, listener.notices_db, smallest, largest) for one in found)
    return Rehearsed(found, held)


def holds(found: Threshold, true_db: float, smallest: float, largest: float) -> bool:
    """Whether an interval holds a threshold; an open end reaches beyond the sizes that are played."""
    if found.place == "above":
        return true_db >= (found.low or largest)
    if found.place == "below":
        return true_db <= (found.high or smallest)
    return (found.low or 0.0) <= true_db <= (found.high or inf)


def _run(search: Search, listener: SimulatedListener, rng: Generator) -> Threshold:
    answers: list[Answer] = []
    while (size_db := next_step(search, answers)) is not None:
        answers.append((size_db, bool(rng.random() < listener.right(size_db))))
    return threshold(search, answers)


def spread(found: Sequence[Threshold]) -> tuple[float, float] | None:
    """The smallest and the largest of the thresholds found; None where none was."""
    values = [one.value for one in found if one.value is not None]
    return (min(values), max(values)) if values else None
