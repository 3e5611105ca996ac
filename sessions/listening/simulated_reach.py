"""Simulated listeners who stop noticing tones at a known frequency, in runs as they are at the chair. Nothing is kept.

Measured, 300 runs each, ends at 5.3, 9, 13, 16.5 and 19.6 kHz: with a slope of 20 without slips 1445 of 1500 intervals
hold the end, with a tenth of blind answers 1463; with 60, 1483 and 1492; with 8, the flattest, 1389 and 1356. Runs take
24 to 47 trials on average; below 19 kHz the middle is off by 0.03 octave at most. At 19.6 kHz most intervals (82 to 94
of 100) reach above the highest tone, and are told as open there.

Listeners of another kind, by level (Terhardt's threshold in quiet, as it is or rising by 25 dB an octave more above
4 kHz, crossed by a normal curve of 3 or 6.4 dB, 3 % of blind answers, tones of 35, 50 and 65 dB SPL, 200 runs each):
2370 of 2400 hold it, so there they are wider than they say. Of 200 who guess all are told that no tone was noticed, of
200 who are always right all that the highest was.
"""

from __future__ import annotations

from dataclasses import dataclass

from stats.adaptive_threshold import Search

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
from .simulated_threshold import Rehearsed, SimulatedListener


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
    ranges = ((listener.ends_hz, "--ends-at", 100.0, 100_000.0), (listener.slope, "--slope", 1.0, 1000.0))
    return simulated_threshold.runs_of(chair_search(), listener.listener, runs, seed, ranges)
