"""Gain that moves: fades, steps, automatic level over time; compression, which follows the music's level. Pure.

What it costs follows the need: at first each moment is explained by itself alone, which does for loudspeakers and
equalisers; only what that shows to move is explained again with the moments before it, as a room needs it. Either
recording may be the one with the room, so both are asked, and the lesser counts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .findings import LIMITS, Finding, finding
from .gain_course import DRY_TAPS, WET_TAPS, Course, Moments, Signal, course

SHORTEST_S = 2.0  # in less a movement is none that could be told from the music
STRETCH_S = 0.75
MOST_STRETCHES = 24
FEWEST_STRETCHES = 4
LOUDNESS_CLASSES = 5
FEWEST_MOMENTS = 40
SOUNDING_DB = 30.0  # a moment farther below the loudest says little
SUSPECT = 0.6  # of the limit, from which a movement is looked into
LEAST_POWER_SHARE = 0.4


@dataclass(frozen=True)
class Movement:
    """By how much a gain moves, in dB: over time, and between the music's loud and soft moments (positive: softer)."""

    over_time_db: float
    by_level_db: float

    @property
    def largest_db(self) -> float:
        """The larger of the two, whatever its sign."""
        return max(abs(self.over_time_db), abs(self.by_level_db))


def told(passage: str, setup: str, found: Movement) -> list[Finding]:
    """What is to be said of it: nothing within the limit."""
    measured = found.largest_db
    if measured <= LIMITS["gain"].value:
        return []
    if abs(found.by_level_db) >= abs(found.over_time_db):
        word = "less" if found.by_level_db > 0 else "more"
        how = f"has {measured:.1f} dB {word} gain in loud moments than in soft ones (a compressor in one of them?)"
    else:
        how = f"changes its gain by {measured:.1f} dB in the course of the passage (a fade or an automatic level?)"
    what = f"{setup}, against the reference, {how}; record without it, or bring a recording made in the same way"
    return [finding("gain", setup, passage, measured, what)]


def movement(one: Moments, two: Moments, length_s: float) -> Movement | None:
    """How the second's gain moves against the first's; None where they are too short or too faint to say."""
    if length_s < SHORTEST_S:
        return None
    over_time = by_level = 0.0
    stretches = _stretches(length_s, one.lines.shape[1])
    if stretches is not None:
        over_time = _least(one, two, stretches, _over_time_db)
    classes = _classes(one, two)
    if classes is not None:
        by_level = _least(one, two, classes, _by_level_db)
    return None if stretches is None and classes is None else Movement(over_time, by_level)


def _least(one: Moments, two: Moments, groups: NDArray[np.int64], read: Callable[[Signal], float]) -> float:
    """What is read of the course, the lesser of both directions; 0 where they do not agree that it moves."""
    found = 0.0
    for taps in (DRY_TAPS, WET_TAPS):
        there, back = course(one, two, groups, taps), course(two, one, groups, taps)
        if there is None or back is None:
            return 0.0
        values = _borne_out(there, read), _borne_out(replace(back, gains_db=-back.gains_db), read)
        if values[0] * values[1] <= 0 or min(map(abs, values)) < SUSPECT * LIMITS["gain"].value:
            return 0.0
        found = min(values, key=abs)
    return found


def _borne_out(seen: Course, read: Callable[[Signal], float]) -> float:
    """What is read of a course, as far as the bands and the levels bear it out."""
    return read(seen.gains_db) * min(seen.share, 1.0) if seen.power_share >= LEAST_POWER_SHARE else 0.0


def _stretches(length_s: float, count: int) -> NDArray[np.int64] | None:
    """The moments in stretches of time, equally many in each."""
    stretches = min(MOST_STRETCHES, int(length_s / STRETCH_S))
    if stretches < FEWEST_STRETCHES:
        return None
    each = count // stretches
    return np.arange(stretches * each).reshape(stretches, each)


def _classes(one: Moments, two: Moments) -> NDArray[np.int64] | None:
    """The moments in classes of loudness, the loudest first, by both recordings alike; without the softest."""
    mine, theirs = one.levels_db, two.levels_db
    sounding = (mine > mine.max() - SOUNDING_DB) & (theirs > theirs.max() - SOUNDING_DB)
    ordered = np.argsort(-(mine + theirs) + np.where(sounding, 0, 1e6))[: int(sounding.sum())]
    each = ordered.size // LOUDNESS_CLASSES
    if ordered.size < FEWEST_MOMENTS:
        return None
    return ordered[: LOUDNESS_CLASSES * each].reshape(LOUDNESS_CLASSES, each)


def _over_time_db(gains_db: Signal) -> float:
    """The range of the gains, each the middle one of three, so that a dropout is none; or the slope over it all."""
    triples = np.lib.stride_tricks.sliding_window_view(gains_db, 3)
    first, second = np.triu_indices(gains_db.size, 1)
    slope = float(np.median((gains_db[second] - gains_db[first]) / (second - first)))
    return max(float(np.ptp(np.median(triples, axis=1))), abs(slope) * gains_db.size)


def _by_level_db(gains_db: Signal) -> float:
    """How much more gain softer classes have than the loudest, where it is most: the softest may be all room."""
    return float(max(gains_db[1:] - gains_db[0], key=abs))
