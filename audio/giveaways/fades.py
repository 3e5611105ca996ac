"""A recording that fades in or out, or is turned up or down, by so much that nothing explains it any more. Pure.

What a filter leaves of one recording (`gain_course`) says less the deeper the other fades. So the levels of both are
laid side by side here, moment by moment in a few bands: no later filter can hide what is not there. A room rings on
where the music is faint, so what counts is moments in which both, or the louder one, play as they do at other times.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..track_time import told as told_place
from .findings import Finding, finding

Levels = NDArray[np.float64]

WINDOW_S = 0.4
EDGES_HZ = (150.0, 400.0, 1000.0, 2500.0, 6000.0)
SOUNDING_DB = 12.0  # below a band's own loud moments: fainter, it may be a room that rings on
FAINTEST_DBFS = -100.0  # of a band
FEWEST_BANDS = 2
FEWEST_MOMENTS = 8
LEAST_DB = 4.0  # a smaller one is found by what a filter leaves; clean pairs have none of 2 dB
SHORTEST_S, STEEPEST_DB = 0.8, 75.0  # of a fade; steeper a second, one of them has ended
STEP_S, STEP_DB = 1.2, 12.0  # a smaller one in less time may be a step
STRAY = 0.15  # of its depth, what moments lie off a fade that is even in dB, the median
BETTER = 0.35  # of what one level throughout leaves
OWNS = 0.65  # of the fade is in its own level


@dataclass(frozen=True)
class Fade:
    """A gain that goes from one level to another, evenly in dB: from when to when, in seconds, and by how many dB.

    `by_db` is negative where the second falls against the first; `others` says whose own level moves so, None: unknown.
    """

    start_s: float
    end_s: float
    by_db: float
    others: bool | None

    def in_both(self, reference: Clip, other: Clip, begins_s: tuple[float, float]) -> tuple[Clip, Clip]:
        """The two with the fade in the one that had it not, too: made fainter, since a faded one may be but noise.

        Each begins so many seconds after the clips that the fade was found in.
        """
        if self.others is False:
            return reference, _faded(other, self, -self.by_db, begins_s[1])
        return _faded(reference, self, self.by_db, begins_s[0]), other


def fade(reference: Clip, other: Clip) -> Fade | None:
    """The fade of one of two clips in step against the other; None where there is none so deep."""
    count = min(reference.channels, other.channels)
    mine, theirs = (_levels(each, count) for each in (reference, other))
    if len(mine) < FEWEST_MOMENTS:
        return None
    course, known = _course(mine, theirs)
    if known.sum() < FEWEST_MOMENTS:
        return None
    places = np.flatnonzero(known)
    times = (places + 1) * WINDOW_S / 2
    found = _fitted(times, course[known])
    if found is None:
        return None
    start_s, end_s, by_db = found
    ramp = by_db * _ramp((np.arange(len(course)) + 1) * WINDOW_S / 2, start_s, end_s)
    own = [_share(ramp, each) for each in (-mine.mean(axis=1), theirs.mean(axis=1))]
    if abs(own[1] - own[0]) >= 2 * OWNS - 1:
        others: bool | None = own[1] > own[0]
    else:
        others = _as_usual(start_s, end_s, by_db, reference.length_s)
    return Fade(start_s, end_s, by_db, others)


def told(passage: str, setup: str, found: Fade, begun_s: float) -> Finding:
    """What is to be said of it; the clips begin `begun_s` into the passage."""
    mine = found.others is False
    names = ("the reference", setup) if mine else (setup, "the reference")
    down = (found.by_db < 0) != mine
    places = " to ".join(told_place(begun_s + max(0.0, each), 1) for each in (found.start_s, found.end_s))
    unsure = "" if found.others is not None else f" (or {names[1]} {'up' if down else 'down'}: whose it is is not told)"
    what = (
        f"{names[0]} fades {'down' if down else 'up'} by about {abs(found.by_db):.0f} dB against {names[1]}{unsure}, "
        f"from {places} into the passage; record without it, or choose a passage that ends before it or begins after it"
    )
    return finding("gain", setup, passage, abs(found.by_db), what)


def _faded(clip: Clip, like: Fade, by_db: float, begins_s: float) -> Clip:
    seconds = np.arange(clip.frames) / clip.rate_hz + begins_s
    gains_db = by_db * _ramp(seconds, like.start_s, like.end_s)
    return Clip(clip.samples * 10 ** ((gains_db - max(by_db, 0.0)) / 20)[:, None], clip.rate_hz)


def _levels(clip: Clip, channels: int) -> Levels:
    """The level of each band in half overlapping moments, channels together, in dB; (moments, bands)."""
    window = 2 * round(WINDOW_S * clip.rate_hz / 2)
    shape = np.hanning(window)[:, None]
    places = np.searchsorted(np.fft.rfftfreq(window, 1 / clip.rate_hz), EDGES_HZ)
    found = []
    for start in range(0, clip.frames - window + 1, window // 2):
        lines = np.fft.rfft(clip.samples[start : start + window, :channels] * shape, axis=0)
        power = np.square(np.abs(lines[: places[-1]])).sum(axis=1)
        found.append(np.add.reduceat(power, places[:-1]))
    full = window * float(np.sum(np.square(shape))) / 4
    return np.asarray(10 * np.log10(np.maximum(np.reshape(found, (-1, len(EDGES_HZ) - 1)) / full, 1e-20)))


def _course(mine: Levels, theirs: Levels) -> tuple[Levels, NDArray[np.bool_]]:
    """By how much more than else the second is louder than the first, the middle band of those that sound, in dB."""
    sounding = np.zeros(mine.shape, dtype=bool)
    for each in (mine, theirs):
        loud = np.quantile(each, 0.9, axis=0)
        sounding |= (each > loud - SOUNDING_DB) & (each > FAINTEST_DBFS)
    apart = np.where(sounding, theirs - mine, np.nan)
    known = sounding.sum(axis=1) >= FEWEST_BANDS
    apart -= np.nanmedian(np.where(sounding.any(axis=0), apart, 0.0), axis=0)
    course = np.full(len(mine), np.nan)
    course[known] = np.nanmedian(apart[known], axis=1)
    return course, known


def _fitted(times: Levels, course: Levels) -> tuple[float, float, float] | None:
    """The even fade between two levels that fits a course best, if it does well: start and end in s, by how many dB."""
    stays = float(np.mean(np.abs(course - np.median(course))))
    grid = np.concatenate([times, [times[-1] + WINDOW_S / 2]])
    best, found = np.inf, None
    for start_s in grid[:-1]:
        for end_s in grid[grid >= start_s + SHORTEST_S]:
            ramp = _ramp(times, start_s, end_s)
            if ramp[0] == ramp[-1]:
                continue
            level, by_db = np.linalg.lstsq(np.stack([np.ones(times.size), ramp], axis=1), course, rcond=None)[0]
            stray = float(np.mean(np.abs(course - level - by_db * ramp)))
            if stray < best:
                best, found = stray, (float(start_s), float(end_s), float(by_db))
    if found is None or abs(found[2]) < LEAST_DB or best > min(STRAY * abs(found[2]), BETTER * stays):
        return None
    lasts_s, depth_db = found[1] - found[0], abs(found[2])
    return None if depth_db > STEEPEST_DB * lasts_s or (lasts_s < STEP_S and depth_db < STEP_DB) else found


def _ramp(times: Levels, start_s: float, end_s: float) -> Levels:
    """How much of a fade is done at some times: from 0 to 1."""
    return np.clip((times - start_s) / (end_s - start_s), 0, 1)


def _as_usual(start_s: float, end_s: float, by_db: float, length_s: float) -> bool | None:
    """Whose a fade is where the music itself swells or fades: up from a beginning, down to an end; None amid it."""
    begins, ends = start_s < WINDOW_S, end_s > length_s - 2 * WINDOW_S
    return None if begins == ends else (by_db > 0) == begins


def _share(ramp: Levels, own_db: Levels) -> float:
    """How much of a fade is in a recording's own level."""
    moved = ramp - ramp.mean()
    return float(moved @ (own_db - own_db.mean()) / max(float(moved @ moved), 1e-9))
