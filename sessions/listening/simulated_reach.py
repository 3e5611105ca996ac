"""Simulated listeners who stop noticing tones at a known frequency, in runs as they are at the chair. Nothing is kept.

Measured on them (TO BE FILLED)
"""

from __future__ import annotations

from dataclasses import dataclass

from stats.adaptive_threshold import Search

from ..errors import ListenError
from . import simulated_threshold
from .hearing_sounds import (
    ALTERNATIVES,
    BEYOND,
    FEWEST,
    LEVEL,
    MOST,
    POINTS,
    PROPORTION,
    SLOPES,
    TONES_HZ,
    WIDTH,
)
from .simulated_threshold import MOST_RUNS, Rehearsed, SimulatedListener


@dataclass(frozen=True)
class EndsAt:
    """Who notices a tone of `ends_hz` in every second trial attended to, and ever fewer of higher ones (Weibull).

    `slips` is the share of trials in which the answer is blind whatever is played.
    """

    ends_hz: float
    slope: float = 20.0
    slips: float = 0.0

    @property
    def listener(self) -> SimulatedListener:
        """The same by the steps of the rule."""
        return SimulatedListener(TONES_HZ[0] / self.ends_hz, self.slope, self.slips)


def chair_search() -> Search:
    """The search of a run at the chair."""
    steps = tuple(TONES_HZ[0] / one for one in TONES_HZ)
    return Search(
        steps, ALTERNATIVES, PROPORTION, LEVEL, WIDTH, FEWEST, MOST, slopes=SLOPES, beyond=BEYOND, points=POINTS
    )


def rehearse(listener: EndsAt, runs: int, seed: int) -> Rehearsed:
    """So many runs of such a listener; what they found is in steps, the highest tone over the one where it ends.

    Raises
    ------
    ListenError
        If a number is out of range.
    """
    for given, name, low, high in (
        (listener.ends_hz, "--ends-at", 100.0, 100_000.0),
        (listener.slope, "--slope", 1.0, 1000.0),
        (listener.slips, "--slips", 0.0, 1.0),
        (runs, "--runs", 1, MOST_RUNS),
        (seed, "--seed", 0, 2**63),
    ):
        if not low <= given <= high:
            raise ListenError(f"{name} {given:g} is out of range; give {low:g} to {high:g}")
    return simulated_threshold.runs_of(chair_search(), listener.listener, runs, seed)
