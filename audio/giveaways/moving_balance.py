"""Balance and width that move: the gain of one channel, or of the side, against the rest in the course of time. Pure.

The gain of each part is asked by itself as that of the whole is (`gain_course`): what a loudspeaker or a room does to a
part stays, and what moves all parts alike is no matter of balance. Where a balance moves, middle and side seem to move
apart as well, and the other way round: what explains the recordings better is told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..track_time import told as told_place
from . import crossed_over
from .findings import LIMITS, Finding, finding
from .gain_course import DRY_TAPS, WET_TAPS, Course, Moments, Signal, course
from .moving_gain import (
    LEAST_POWER_SHARE,
    SHORTEST_S,
    SUSPECT,
    Step,
    covers_s,
    in_stretches,
    over_frames,
    over_time_db,
    step_of,
)
from .width import middle_and_side

SIDE = -1
ALONE = 0.35  # of a balance's movement: what the rest moves by at most where one channel alone moves
FEWEST_KNOWN = 4  # stretches
ADVICE = "record without it, or bring a recording made in the same way"


@dataclass(frozen=True, eq=False)
class Apart:
    """A part of a recording whose gain moves against the rest's.

    Attributes
    ----------
    part
        The channel, from 0, or `SIDE`, which moves against the middle.
    by_db
        How far, in dB.
    course_db
        How far the part is above the rest in equal stretches of the clip, about the mean; NaN in silence.
    alone
        The channel that alone moves, from 0; None where the rest moves too, the other way or not alike.
    length_s
        How much of the clip these cover, from its start.
    explained
        The part of the energy that follows from the reference's when it moves so; the part's or the rest's, the lesser.
    """

    part: int
    by_db: float
    course_db: Signal
    alone: int | None
    length_s: float
    explained: float

    @property
    def limit(self) -> str:
        """The name of its limit."""
        return "width-moving" if self.part == SIDE else "channel-level-moving"

    @property
    def kind(self) -> str:
        """The kind of cue that it is."""
        return LIMITS[self.limit].kind

    @property
    def times_limit(self) -> float:
        """How far it moves, in multiples of its limit."""
        return self.by_db / LIMITS[self.limit].value

    @property
    def step(self) -> Step | None:
        """The one step from a level to another; None where it slides or wanders."""
        return step_of(self.course_db, self.length_s)


def told(passage: str, setup: str, found: Apart, begun_s: float | None = 0.0) -> list[Finding]:
    """What is to be said of it. The clips begin `begun_s` into the passage; None: not known."""
    step = found.step
    place = "" if begun_s is None or step is None else f" about {told_place(begun_s + step.at_s, 1)} into the passage"
    by = f"{found.by_db:.1f} dB"
    if found.part == SIDE:
        word = "wider" if step is not None and step.by_db > 0 else "narrower"
        how = f"changes its width by {by} in the course of the passage" if step is None else f"gets {by} {word}{place}"
        what = f"{setup}'s stereo, against the reference's, {how} (side against middle: an effect in one of them?)"
    elif found.alone is not None:
        up = step is not None and (step.by_db > 0) == (found.alone == found.part)
        how = (
            f"steps {'up' if up else 'down'} by {by}{place}"
            if step
            else f"changes its gain by {by} in the course of the passage"
        )
        what = f"channel {found.alone + 1} alone of {setup} {how}, against the reference (a contact in one of them?)"
    else:
        how = f"moves by {by} in the course of the passage" if step is None else f"steps by {by}{place}"
        what = (
            f"the balance of {setup}'s channels {how}, against the reference (a control or a contact in one of them?)"
        )
    return [finding(found.limit, setup, passage, found.by_db, f"{what}; {ADVICE}")]


def apart(pair: tuple[Clip, Clip], spectra: tuple[Moments, Moments]) -> Apart | None:
    """Which part of the second moves against its rest, beyond the limit; None if none does, or if none could be told.

    The clips are in step, and `spectra` are theirs.
    """
    length_s, channels = pair[0].length_s, pair[0].channels
    groups = in_stretches(length_s, spectra[0].lines.shape[1]) if length_s >= SHORTEST_S else None
    if groups is None or channels < 2:
        return None
    found = [
        each
        for part in ([0, SIDE] if channels == 2 else range(channels))
        if (each := _apart(*spectra, groups, part)) is not None
    ]
    return max(found, key=lambda each: each.explained if channels == 2 else each.times_limit, default=None)


def without(clip: Clip, found: Apart) -> Clip:
    """The second clip without that movement."""
    gains = 10 ** (-_over_frames(found, clip)[:, None] / 20)
    if found.part == SIDE:
        middle = clip.samples.mean(axis=1, keepdims=True)
        return Clip(middle + gains * (clip.samples - middle), clip.rate_hz)
    samples = clip.samples.copy()
    part, rest = [found.part], [place for place in range(clip.channels) if place != found.part]
    if found.alone is None:
        samples[:, part] *= np.sqrt(gains)
        samples[:, rest] /= np.sqrt(gains)
    elif found.alone == found.part:
        samples[:, part] *= gains
    else:
        samples[:, rest] /= gains
    return Clip(samples, clip.rate_hz)


def _over_frames(found: Apart, clip: Clip) -> Signal:
    """The course in each frame: a step where there is one, else straight between the stretches' middles."""
    step = found.step
    if step is None:
        return over_frames(found.course_db, found.length_s, clip)
    middles_s = (np.arange(found.course_db.size) + 0.5) * found.length_s / found.course_db.size
    before = float(np.median(_known(found.course_db[middles_s < step.at_s])))
    moments_s = (np.arange(clip.frames) + 0.5) / clip.rate_hz
    return np.where(moments_s < step.at_s, before, before + step.by_db)


def _apart(one: Moments, two: Moments, groups: NDArray[np.int64], part: int) -> Apart | None:
    """How one part of the second moves against the rest, the least of both directions and of both models."""
    limit_db = LIMITS["width-moving" if part == SIDE else "channel-level-moving"].value
    by_db, course_db, alone, explained = np.inf, np.empty(0), None, None
    for taps in (DRY_TAPS, WET_TAPS):
        values = []
        for sign, source, target in ((1, one, two), (-1, two, one)):
            seen = _courses(source, target, groups, part, taps)
            if seen is None:
                return None
            value, gains_db = _between(*seen)
            if value < SUSPECT * limit_db:
                return None
            values.append(value)
            if sign > 0:
                course_db, alone = gains_db, _alone(*seen, part, value)
                explained = min(each.explained for each in seen) if explained is None else explained  # dry
            elif np.nansum(course_db * gains_db) >= 0:
                return None
        by_db = min(by_db, *values)
    if by_db <= limit_db or (part == SIDE and not crossed_over.moves(one, two, groups, course_db)):
        return None
    return Apart(part, by_db, course_db, alone, covers_s(groups), explained or 0.0)


def _courses(
    one: Moments, two: Moments, groups: NDArray[np.int64], part: int, taps: int
) -> tuple[Course, Course] | None:
    """The courses of the gain of a part and of the rest; None where either says nothing."""
    parts, rests = (_parts(each, part) for each in (one, two))
    own, rest = course(parts[0], rests[0], groups, taps), course(parts[1], rests[1], groups, taps)
    return None if own is None or rest is None else (own, rest)


def _parts(clip: Moments, part: int) -> tuple[Moments, Moments]:
    """A part of a recording and the rest of it."""
    if part == SIDE:
        middle, side = middle_and_side(clip)
        freqs, place = clip.freqs_hz[: len(middle)], np.zeros(len(middle), dtype=np.int64)
        return Moments(side, freqs, place), Moments(middle, freqs, place)
    own = clip.channel == part
    mine, rest = (Moments(clip.lines[each], clip.freqs_hz[each], clip.channel[each]) for each in (own, ~own))
    return mine, rest


def _between(own: Course, rest: Course) -> tuple[float, Signal]:
    """How far the one moves against the other, as far as the bands and the levels bear it out, and how."""
    apart_db = own.gains_db - rest.gains_db
    known = ~np.isnan(apart_db)
    if known.sum() < FEWEST_KNOWN:
        return 0.0, apart_db
    apart_db = apart_db - apart_db[known].mean()
    moved = np.array([np.sum(np.square(each.gains_db[known])) for each in (own, rest)]) + 1e-12
    counts = moved / moved.sum()  # what does not move bears nothing out
    share = counts @ [min(own.share, 1.0), min(rest.share, 1.0)]
    if counts @ [own.power_share, rest.power_share] < LEAST_POWER_SHARE:
        return 0.0, apart_db
    return over_time_db(apart_db) * float(share), apart_db


def _alone(own: Course, rest: Course, part: int, by_db: float) -> int | None:
    """The channel that alone moves, of a part and the one other channel; or the part, of more."""
    if part == SIDE:
        return None
    if float(np.ptp(_known(rest.gains_db))) < ALONE * by_db:
        return part
    if rest.gains_db.size and float(np.ptp(_known(own.gains_db))) < ALONE * by_db:
        return 1 - part
    return None


def _known(gains_db: Signal) -> Signal:
    return gains_db[~np.isnan(gains_db)]
