"""Gain that goes up and down quickly, as of a compressor that another sound drives: pumping, from 0.3 to 3 s. Pure.

The gain of each moment is how much of it follows from the other recording's same moment, every line by a weight that
stays. What is read of that is asked again of a model that explains more: by how much do moments before it, as a room
adds them, leave that course standing, in each octave? Both directions are asked, and the lesser counts.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .findings import Finding, finding
from .gain_course import (
    AUDIBLE,
    DRY_TAPS,
    FEWEST_LINES,
    KNOWN,
    LINES_AT_ONCE,
    ROUNDS,
    SHARES_HZ,
    SOFTENING,
    TRUST,
    WET_TAPS,
    WINDOW_S,
    Lines,
    Moments,
    Signal,
    with_earlier,
)

LONGEST_S = 3.0  # slower is a movement over time
SHORTEST_S = 0.3
FEWEST_PERIODS = 3
RANGE = (5, 95)  # percentiles of the moments: of a sine all but a hundredth lies between them
SLOW_S = 6.0  # what takes longer is not of a swing
ALIKE = 0.7  # both directions show one course: 0.8 and more in rooms of 0.8 s, at most 0.75 where one is all room
WIDER = 1.7  # than the other's range: no more; 3 and more where one is all room
STANDS = 0.55  # of itself with earlier moments: up to 0.47 where only a room rings on, else 0.53 (once) to 1
GAIN_FLOOR = 0.03
FEWEST_MOMENTS = 40
LEAST_POWER_SHARE = 0.4
PERIODIC = 0.3  # of the variance in one period and its neighbours, from which that is told


@dataclass(frozen=True)
class Swing:
    """Between what gains the other goes up and down against the reference, in dB, and how often (None: no period)."""

    by_db: float
    period_s: float | None


def told(passage: str, setup: str, found: Swing) -> list[Finding]:
    """What is to be said of a swing beyond its limit."""
    often = f", every {found.period_s:.2g} s" if found.period_s is not None else ""
    what = (
        f"{setup}'s gain goes up and down by {found.by_db:.1f} dB{often}, against the reference (pumping: a compressor "
        "in one of them?); record without it, or bring a recording made in the same way"
    )
    return [finding("gain", setup, passage, found.by_db, what)]


def swing(one: Moments, two: Moments, least_db: float) -> Swing | None:
    """How the second's gain swings against the first's; None if by less than `least_db`, or if they do not say."""
    heard = _heard(one.lines) & _heard(two.lines)
    if heard.sum() < FEWEST_LINES or one.lines.shape[1] < FEWEST_PERIODS * LONGEST_S / WINDOW_S:
        return None
    mine, theirs = one.lines[heard], two.lines[heard]
    bands = _bands(one.freqs_hz[heard], one.channel[heard])
    courses = []
    for source, target in ((mine, theirs), (theirs, mine)):
        course = _course(source, target)
        if course.range_db < least_db or course.power_share < LEAST_POWER_SHARE:
            return None
        courses.append(course)
    if not _one_course(*courses):
        return None
    least = min(course.range_db for course in courses)
    for taps in (DRY_TAPS, WET_TAPS):
        for course, source, target in zip(courses, (mine, theirs), (theirs, mine), strict=True):
            stands = _standing(source, target, course, bands, taps)
            least = min(least, course.range_db * stands)
            if stands < STANDS or least < least_db:
                return None
    return Swing(least, _period_s(courses[0].moves * courses[0].sounding))


@dataclass(frozen=True)
class _Course:
    """The gain of each moment: its slow part, the rest of it about 1, where it is known well, how far it swings."""

    slow: Signal
    moves: Signal
    sounding: NDArray[np.bool_]
    range_db: float
    power_share: float


def _one_course(there: _Course, back: _Course) -> bool:
    """Whether one direction's gain falls where the other's rises, and as far."""
    both = there.sounding & back.sounding
    if both.sum() < FEWEST_MOMENTS:
        return False
    least, most = sorted((there.range_db, back.range_db))
    alike = -float(np.corrcoef(there.moves[both], back.moves[both])[0, 1])
    return alike > ALIKE and most < WIDER * least


def _heard(lines: Lines) -> NDArray[np.bool_]:
    energy = np.sum(np.square(np.abs(lines)), axis=1)
    return np.asarray(energy > AUDIBLE * energy.max())


def _bands(freqs_hz: Signal, channel: NDArray[np.int64]) -> list[NDArray[np.bool_]]:
    """Which lines are of each octave of each channel; those with few left out."""
    edges = list(itertools.pairwise(SHARES_HZ))
    places = [
        (channel == place) & (freqs_hz >= low) & (freqs_hz < high)
        for place in np.unique(channel)
        for low, high in edges
    ]
    return [place for place in places if place.sum() >= FEWEST_LINES]


def _course(source: Lines, target: Lines) -> _Course:
    across = source.conj() * target
    power = np.square(np.abs(source))
    energy = np.square(np.abs(target))
    gains: Signal = np.ones(source.shape[1])
    for _ in range(ROUNDS):
        weights = (across @ gains) / np.maximum(power @ np.square(gains), 1e-30)
        weight = np.square(np.abs(weights))
        tied = np.real(weights.conj()[:, None] * across)
        left = energy.sum(axis=1) - 2 * tied @ gains + weight * (power @ np.square(gains))
        noise = np.maximum(left, TRUST * energy.sum(axis=1)) / gains.size
        known = (weight / noise) @ power
        gains = np.maximum((1 / noise) @ tied / np.maximum(known, 1e-9), GAIN_FLOOR)
    sounding = known > KNOWN
    if sounding.sum() < FEWEST_MOMENTS:
        return _Course(gains, gains, sounding, 0.0, 0.0)
    gains_db = np.where(sounding, 20 * np.log10(gains), 0.0)
    slow_db = _slow(gains_db, sounding)
    swings_db = np.where(sounding, gains_db - slow_db, 0.0)
    total = energy.sum(axis=1)
    levels = 10 * np.log10((1 / total) @ energy + 1e-12) - 10 * np.log10((weight / total) @ power + 1e-12)
    levels = np.where(sounding, levels - _slow(levels, sounding), 0.0)
    share = float(swings_db @ levels / max(float(swings_db @ swings_db), 1e-12))
    return _Course(
        10 ** (slow_db / 20),
        10 ** (swings_db / 20) - 1,
        sounding,
        float(np.ptp(np.percentile(swings_db[sounding], RANGE))),
        share,
    )


def _slow(values: Signal, where: NDArray[np.bool_]) -> Signal:
    """What changes in longer than the longest period, by the lowest cosines."""
    seconds = values.size * WINDOW_S / 2
    count = int(2 * seconds / SLOW_S) + 1
    waves = np.cos(np.pi * np.arange(count)[:, None] * (np.arange(values.size) + 0.5) / values.size).T
    return np.asarray(waves @ np.linalg.lstsq(waves[where], values[where], rcond=1e-3)[0])


def _standing(source: Lines, target: Lines, course: _Course, bands: list[NDArray[np.bool_]], taps: int) -> float:
    """By how much of itself a course stands where earlier moments explain, too: the median over the octaves."""
    own = np.zeros((len(source), 2))
    share = 1.0
    for _ in range(ROUNDS):
        for start in range(0, len(source), LINES_AT_ONCE):
            part = slice(start, start + LINES_AT_ONCE)
            own[part] = _asked(with_earlier(source[part], taps), target[part], course, share, taps)
        total = own.sum(axis=0)
        shares = [share + float(own[band, 0].sum() / max(float(own[band, 1].sum()), 1e-12)) for band in bands]
        share = float(np.clip(share + total[0] / max(float(total[1]), 1e-12), 0.0, 2.0))
    return min(float(np.median(shares)), 1.0) if shares else 0.0


def _asked(earlier: Lines, target: Lines, course: _Course, share: float, taps: int) -> Signal:
    """What each line says of a change of the share: its wish and its weight, (lines, 2)."""
    held = earlier * (course.slow * (1 + share * course.moves)).astype(np.float32)[:, None]
    turned = held.conj().swapaxes(-1, -2)
    normal = turned @ held
    soft = SOFTENING / taps * np.trace(normal, axis1=1, axis2=2).real
    normal = normal + soft[:, None, None] * np.eye(taps)
    weights = np.linalg.solve(normal, turned @ target[..., None])
    left = target - (held @ weights)[..., 0]
    moved = ((earlier * (course.slow * course.moves).astype(np.float32)[:, None]) @ weights)[..., 0]
    free = moved - (held @ np.linalg.solve(normal, turned @ moved[..., None]))[..., 0]
    count = target.shape[1]
    energy = np.sum(np.square(np.abs(target)), axis=1)
    noise = np.maximum(np.sum(np.square(np.abs(left)), axis=1) / max(count - taps, 1), TRUST * energy / count)
    return np.stack(
        [np.sum(np.real(free.conj() * left), axis=1) / noise, np.sum(np.square(np.abs(free)), axis=1) / noise], axis=1
    )


def _period_s(moves: Signal) -> float | None:
    """The period in which most of a swing is, where it is in one."""
    size = 4 * moves.size
    power = np.square(np.abs(np.fft.rfft(moves * np.hanning(moves.size), size)))
    best = int(np.argmax(power))
    near = power[max(0, best - 8) : best + 9].sum() / power.sum()
    return size * WINDOW_S / 2 / best if best and near > PERIODIC else None
