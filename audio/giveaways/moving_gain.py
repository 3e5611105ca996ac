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

from ..clip import Clip
from ..track_time import told as told_place
from .findings import LIMITS, Finding, finding
from .gain_course import DRY_TAPS, WET_TAPS, WINDOW_S, Course, Moments, Signal, course

SHORTEST_S = 2.0  # in less a movement is none that could be told from the music
STRETCH_S = 0.75
MOST_STRETCHES = 24
FEWEST_STRETCHES = 4
LOUDNESS_CLASSES = 5
FEWEST_MOMENTS = 40
SOUNDING_DB = 30.0  # a moment farther below the loudest says little
SUSPECT = 0.6  # of the limit, from which a movement is looked into
LEAST_POWER_SHARE = 0.4
SLOPED = 1.02
LEVEL = 0.2  # of a step: by less the gain moves before it and after it
LEVEL_STRETCHES, FEWEST_LEVEL = 2, 6  # on either side, and in all: a fade is like a step in fewer


@dataclass(frozen=True)
class Step:
    """A gain that changes at one moment: when, in seconds, and by how many dB (negative: down)."""

    at_s: float
    by_db: float


@dataclass(frozen=True)
class Movement:
    """By how much a gain moves, in dB: over time, and between the music's loud and soft moments (positive: softer).

    `course_db` is the gain over time in equal stretches of the first `length_s` of the clip, NaN in silence; None where
    none was asked for.
    """

    over_time_db: float
    by_level_db: float
    course_db: Signal | None = None
    length_s: float = 0.0

    @property
    def largest_db(self) -> float:
        """The larger of the two, whatever its sign."""
        return max(abs(self.over_time_db), abs(self.by_level_db))

    @property
    def step(self) -> Step | None:
        """The one step of the gain from a level to another; None where it fades or wanders."""
        return None if self.course_db is None else step_of(self.course_db, self.length_s)

    @property
    def there_and_back(self) -> tuple[Step, Step] | None:
        """The two steps of a gain that comes back to where it was; None where it does not."""
        return None if self.course_db is None else there_and_back(self.course_db, self.length_s)


def told(passage: str, setup: str, found: Movement, begun_s: float | None = 0.0) -> list[Finding]:
    """What is to be said of it: nothing within the limit.

    The clips begin `begun_s` into the passage; None: not known, since some of it was left out of them.
    """
    measured = found.largest_db
    if measured <= LIMITS["gain"].value:
        return []
    if abs(found.by_level_db) >= abs(found.over_time_db):
        word = "less" if found.by_level_db > 0 else "more"
        how = f"has {measured:.1f} dB {word} gain in loud moments than in soft ones (a compressor in one of them?)"
    elif (step := found.step) is not None:
        place = "" if begun_s is None else f" about {told_place(begun_s + step.at_s, 1)} into the passage"
        way = "up" if step.by_db > 0 else "down"
        how = f"steps {way} by {measured:.1f} dB{place} (a level that was set anew in one of them?)"
    elif (both := found.there_and_back) is not None:
        begin, end = ("" if begun_s is None else told_place(begun_s + each.at_s, 1) for each in both)
        place = "" if begun_s is None else f", from about {begin} to about {end} into the passage"
        way = "up" if both[0].by_db > 0 else "down"
        how = f"steps {way} by {measured:.1f} dB and back{place} (a level that was set anew in one of them?)"
    else:
        course = f"changes its gain by {measured:.1f} dB in the course of the passage"
        how = f"{course} (a fade or an automatic level in one of them?)"
    what = f"{setup}, against the reference, {how}; record without it, or bring a recording made in the same way"
    return [finding("gain", setup, passage, measured, what)]


def movement(one: Moments, two: Moments, length_s: float) -> Movement | None:
    """How the second's gain moves against the first's; None where they are too short or too faint to say."""
    if length_s < SHORTEST_S:
        return None
    over_time, by_level, course_db = 0.0, 0.0, None
    stretches = in_stretches(length_s, one.lines.shape[1])
    if stretches is not None:
        over_time, course_db = _least(one, two, stretches, over_time_db)
    classes = _classes(one, two)
    if classes is not None:
        by_level, _ = _least(one, two, classes, _by_level_db)
    covered_s = 0.0 if stretches is None else covers_s(stretches)
    return None if stretches is None and classes is None else Movement(over_time, by_level, course_db, covered_s)


def without(clip: Clip, found: Movement) -> Clip:
    """The second clip without its movement over time."""
    assert found.course_db is not None
    gains_db = over_frames(found.course_db, found.length_s, clip)
    return Clip(clip.samples * 10 ** (-gains_db[:, None] / 20), clip.rate_hz)


def over_frames(course_db: Signal, length_s: float, clip: Clip) -> Signal:
    """A course in equal stretches of the first `length_s` of a clip, in each frame: straight between their middles."""
    known = np.flatnonzero(~np.isnan(course_db))
    middles_s = (known + 0.5) * length_s / course_db.size
    return np.interp((np.arange(clip.frames) + 0.5) / clip.rate_hz, middles_s, course_db[known])


def _least(
    one: Moments, two: Moments, groups: NDArray[np.int64], read: Callable[[Signal], float]
) -> tuple[float, Signal | None]:
    """What is read of the course, the lesser of both directions, and the course; 0 where they do not agree."""
    found, gains_db = 0.0, None
    for taps in (DRY_TAPS, WET_TAPS):
        there, back = course(one, two, groups, taps), course(two, one, groups, taps)
        if there is None or back is None:
            return 0.0, None
        values = _borne_out(there, read), _borne_out(replace(back, gains_db=-back.gains_db), read)
        if values[0] * values[1] <= 0 or min(map(abs, values)) < SUSPECT * LIMITS["gain"].value:
            return 0.0, None
        found, gains_db = min(values, key=abs), there.gains_db
    return found, gains_db


def _borne_out(seen: Course, read: Callable[[Signal], float]) -> float:
    """What is read of a course, as far as the bands and the levels bear it out."""
    return read(seen.gains_db) * min(seen.share, 1.0) if seen.power_share >= LEAST_POWER_SHARE else 0.0


def in_stretches(length_s: float, count: int) -> NDArray[np.int64] | None:
    """The moments in stretches of time, equally many in each."""
    stretches = min(MOST_STRETCHES, int(length_s / STRETCH_S))
    if stretches < FEWEST_STRETCHES:
        return None
    each = count // stretches
    return np.arange(stretches * each).reshape(stretches, each)


def covers_s(groups: NDArray[np.int64]) -> float:
    """How much of a clip stretches of moments cover: a few moments at its end are left over."""
    return groups.size * WINDOW_S / 2


def _classes(one: Moments, two: Moments) -> NDArray[np.int64] | None:
    """The moments in classes of loudness, the loudest first, by both recordings alike; without the softest."""
    mine, theirs = one.levels_db, two.levels_db
    sounding = (mine > mine.max() - SOUNDING_DB) & (theirs > theirs.max() - SOUNDING_DB)
    ordered = np.argsort(-(mine + theirs) + np.where(sounding, 0, 1e6))[: int(sounding.sum())]
    each = ordered.size // LOUDNESS_CLASSES
    if ordered.size < FEWEST_MOMENTS:
        return None
    return ordered[: LOUDNESS_CLASSES * each].reshape(LOUDNESS_CLASSES, each)


def over_time_db(gains_db: Signal) -> float:
    """The range of the gains, as far as two in a row reach, so that a dropout is none; or the slope over it all."""
    places = np.flatnonzero(~np.isnan(gains_db))
    known = gains_db[places]
    high, low = np.minimum(known[1:], known[:-1]).max(), np.maximum(known[1:], known[:-1]).min()
    first, second = np.triu_indices(known.size, 1)
    slope = float(np.median((known[second] - known[first]) / (places[second] - places[first])))
    span = float(places[-1] - places[0])
    widest = float(np.ptp(known))
    even = abs(slope) * span < SLOPED * widest  # of a step the slopes make more than it is
    return max(float(high - low), abs(slope) * (span + 1) if even else widest)


def step_of(gains_db: Signal, length_s: float) -> Step | None:
    """The step of gains of equal stretches: level before and after, and one stretch between in which it lies."""
    places = np.flatnonzero(~np.isnan(gains_db))
    known = gains_db[places]
    if known.size < FEWEST_LEVEL:
        return None
    for at in range(LEVEL_STRETCHES, known.size - LEVEL_STRETCHES):
        before, after = known[:at], known[at + 1 :]
        low, high = float(np.median(before)), float(np.median(after))
        if max(float(np.ptp(before)), float(np.ptp(after))) < LEVEL * abs(high - low):
            share = float(np.clip((high - known[at]) / (high - low), 0, 1))  # of the stretch, before the step
            return Step((places[at] + share) * length_s / gains_db.size, high - low)
    return None


def there_and_back(gains_db: Signal, length_s: float) -> tuple[Step, Step] | None:
    """A step and the one that undoes it: level before, between and after, a stretch at each step left out."""
    places = np.flatnonzero(~np.isnan(gains_db))
    known = gains_db[places]
    if known.size < FEWEST_LEVEL + LEVEL_STRETCHES + 1:
        return None
    for begin in range(LEVEL_STRETCHES, known.size - 2 * LEVEL_STRETCHES - 1):
        for end in range(begin + LEVEL_STRETCHES + 1, known.size - LEVEL_STRETCHES):
            outside = np.concatenate([known[:begin], known[end + 1 :]])
            inside = known[begin + 1 : end]
            by_db = float(np.median(inside) - np.median(outside))
            if max(float(np.ptp(outside)), float(np.ptp(inside))) < LEVEL * abs(by_db):
                still = [float(np.clip(1 - (known[at] - np.median(outside)) / by_db, 0, 1)) for at in (begin, end)]
                shares = still[0], 1 - still[1]  # of the stretch, before the step
                first, last = (
                    Step((places[at] + share) * length_s / gains_db.size, sign * by_db)
                    for at, share, sign in zip((begin, end), shares, (1, -1), strict=True)
                )
                return first, last
    return None


def _by_level_db(gains_db: Signal) -> float:
    """How much more gain softer classes have than the loudest, where it is most: the softest may be all room."""
    apart = gains_db[1:] - gains_db[0]
    return float(max(apart[~np.isnan(apart)], key=abs, default=0.0))
