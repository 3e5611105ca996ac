"""Steady noise that one recording has more of than the other, in pauses and under music. Pure.

Each recording is explained by the other through a filter that stays, channel by channel; what is steady in what is left
over is its own noise, or the other's through the filter (`steady_noise`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..levels.weighting import a_weight_db
from ..runs import runs
from .filter_residual import both_ways
from .filter_strength import spare
from .findings import LIMITS, Finding, finding
from .overdriven import made_by_overdriving
from .same_sound import content
from .steady_noise import SURE, Courses, Steady, courses, steady

LOWEST_HZ, HIGHEST_HZ = 1000.0, 18_000.0  # below, a held note looks like noise; hiss is heard above
BANDS_PER_OCTAVE = 3
LEVEL_DB = 0.5  # how far a noise's level may be off beyond what its bounds say
ADJACENT = 3  # bands: noise is broad, and an octave of it is one
INAUDIBLE_DBFS = -85.0  # A-weighted: with music at usual levels it is below a quiet room's noise
SHORTEST_S = 1.0
LEAST_ERROR = 0.05  # of the noise
LEAST_OWN = 0.1  # of what is left: less cannot be told from none
DRY = 10**-3.5  # of the music is left over at most: noise alone leaves less of it, a room more (`both_ways`)
MOST_KEPT = 32  # comparisons of a few hundred numbers each: of the pairs of one passage, as many setups as are usual
ESTABLISHED_DB = 1.5  # between what the other's noise is at least and at most
Values = NDArray[np.float64]


@dataclass(frozen=True)
class Excess:
    """The noise of one recording in a band (A-weighted, dB re full scale), and by how much it exceeds the other's.

    `at_least` where music covers what the other has.
    """

    level_db: float
    low_hz: float
    high_hz: float
    beyond_db: float
    at_least: bool


def edges_hz(rate_hz: int) -> Values:
    """Where the bands meet, for a rate."""
    count = int(BANDS_PER_OCTAVE * np.log2(min(HIGHEST_HZ, 0.45 * rate_hz) / LOWEST_HZ))
    return np.asarray(LOWEST_HZ * 2 ** (np.arange(count + 1) / BANDS_PER_OCTAVE))


def noise(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """More steady noise in one of two recordings, of one rate, that are brought into step."""
    both = zip((setup, "the reference"), ("the reference", setup), excesses(reference, other), strict=True)
    found = [(each, who, whom) for who, whom, each in both if each and each.beyond_db > LIMITS["noise-floor"].value]
    if not found:
        return []
    most, who, whom = max(found, key=lambda each: each[0].high_hz / each[0].low_hz)  # noise is broad
    what = (
        f"{who} has steady noise of {most.level_db:.0f} dBFS (A-weighted) from {most.low_hz / 1000:.1f} to "
        f"{most.high_hz / 1000:.1f} kHz, "
        f"{'at least ' if most.at_least else ''}{most.beyond_db:.1f} dB more than {whom}"
    )
    return [finding("noise-floor", setup, passage, most.beyond_db if who == setup else -most.beyond_db, what)]


def excesses(reference: Clip, other: Clip) -> tuple[Excess | None, Excess | None]:
    """The noise that the other has beyond the reference, and that the reference has beyond the other.

    What overdriving one of them makes of the other is no noise, however steady held notes make it.
    """
    compared = _compared(reference, other)
    return (None, None) if compared is None else compared.excesses


def hides_db(reference: Clip, other: Clip) -> float | None:
    """How loud a steady noise may be (A-weighted, dB re full scale) of which nothing can be told; None where none is.

    There the music hardly moves in a room, or whose the noise is cannot be known.
    """
    compared = _compared(reference, other)
    limit_db = LIMITS["noise-floor"].value
    if compared is None or any(each and each.beyond_db > limit_db for each in compared.excesses):
        return None
    power = max(float(np.sum(compared.weight * (each.untold + each.noise))) for each in (compared.one, compared.two))
    return 10 * float(np.log10(power)) if power > 10 ** (INAUDIBLE_DBFS / 10) else None


@dataclass(frozen=True, eq=False)
class _Compared:
    """What is steady in what is left of each of two recordings by the other, by bands, and the `excesses` of both."""

    one: Steady
    two: Steady
    weight: Values
    excesses: tuple[Excess | None, Excess | None]


_KEPT: dict[tuple[str, str], _Compared | None] = {}  # what a check finds and what it says of what is hidden share it


def _compared(reference: Clip, other: Clip) -> _Compared | None:
    """None where the two are too short, or too little is left over to be heard. Done once for the same two clips."""
    both = content(reference), content(other)
    if both not in _KEPT:
        while len(_KEPT) >= MOST_KEPT:
            _KEPT.pop(next(iter(_KEPT)), None)
        _KEPT[both] = _compare(reference, other)
    return _KEPT[both]


def _compare(reference: Clip, other: Clip) -> _Compared | None:
    rate_hz = reference.rate_hz
    count = min(reference.frames, other.frames)
    if count < SHORTEST_S * rate_hz:
        return None
    channels = zip(reference.samples[:count].T, other.samples[:count].T, strict=False)
    ways = [both_ways(one, two, rate_hz) for one, two in channels]
    edges = edges_hz(rate_hz)
    lines = np.linspace(0, rate_hz / 2, len(ways[0].told))
    places = np.searchsorted(lines, edges)
    told = np.mean([np.square(each.told) for each in ways], axis=0)
    shared = np.add.reduceat(told, places[:-1])[: len(edges) - 1] / np.diff(places)
    weight = 10 ** (a_weight_db(np.sqrt(edges[1:] * edges[:-1])) / 10)
    unknown = [
        np.add.reduceat(sum(known.unknown[way] for known in ways), places[:-1])[: len(edges) - 1] for way in (0, 1)
    ]
    if max(float(np.sum(weight * each)) for each in unknown) < 10 ** (INAUDIBLE_DBFS / 10):
        return None  # the cheap look first
    each_way = zip(*(each.explained() for each in ways), strict=True)
    spares = zip(*(spare(each, places) for each in ways), strict=True)
    forward, back = (courses(known, beyond, rate_hz, edges) for known, beyond in zip(each_way, spares, strict=True))
    dry = all(each.unexplained < DRY for each in ways)
    one, two = steady(forward, dry=dry), steady(back, dry=dry)
    there, beyond = _not_both(
        _excess(one, two, shared, _gain(forward, back), weight, edges),
        _excess(two, one, shared, _gain(back, forward), weight, edges),
    )
    excesses = _no_distortion(there, reference, other), _no_distortion(beyond, other, reference)
    return _Compared(one, two, weight, excesses)


def _no_distortion(of: Excess | None, plain: Clip, having: Clip) -> Excess | None:
    """The excess; None where it is what an overdriven amplifier makes of `plain`. Asked where it would be a finding."""
    if of is None or of.beyond_db <= LIMITS["noise-floor"].value:
        return of
    return None if made_by_overdriving(plain, having, (of.low_hz, of.high_hz)) else of


def _not_both(own: Excess | None, others: Excess | None) -> tuple[Excess | None, Excess | None]:
    """The excesses, neither of them where each is said to exceed the other in the same bands."""
    if own is None or others is None or min(own.beyond_db, others.beyond_db) <= 0:
        return own, others
    meet = min(own.high_hz, others.high_hz) > max(own.low_hz, others.low_hz)
    return (None, None) if meet else (own, others)


def _gain(way: Courses, back: Courses) -> Values:
    """What the filter makes of the power of music in each band."""
    return np.asarray(way.foretold.mean(axis=0) / np.maximum(back.heard.mean(axis=0), 1e-20))


def _excess(own: Steady, others: Steady, shared: Values, gain: Values, weight: Values, edges: Values) -> Excess | None:
    """The noise that is one recording's own; `shared` is how much of the other's the filter lets through, at least."""
    found = [_of_run(own, others, shared, gain, weight, edges, run) for run in _runs(own.noise > 0)]
    heard = [each for each in found if each is not None and each.level_db > INAUDIBLE_DBFS]
    return max(heard, key=lambda each: each.beyond_db, default=None)


def _of_run(
    own: Steady, others: Steady, shared: Values, gain: Values, weight: Values, edges: Values, run: slice
) -> Excess | None:
    share, off = _own_share(own, run)
    least = (1 + share - off) / 2
    if least <= 0:
        return None
    total = float(np.sum(weight[run] * own.noise[run]))
    mine, off_mine = _own_power(own, run, weight)
    if off_mine > mine * (1 - 10 ** (-ESTABLISHED_DB / 10)):
        mine = total * (1 + share) / 2
    at_most = np.minimum(others.most[run], others.heard[run])
    own_at_most = others.most[run] + shared[run] * (others.more[run] + SURE * others.error[run])
    own_at_most = own_at_most / (1 + shared[run])
    at_most = np.minimum(at_most, np.maximum(own_at_most, LEAST_ERROR * others.most[run]))
    through = own.noise[run] * 2 * (1 - least) / ((1 + shared[run]) * gain[run])
    most = max(float(np.sum(weight[run] * np.minimum(at_most, through))), 1e-20)
    theirs, off_theirs = _own_power(others, run, weight)
    near = 10 ** (ESTABLISHED_DB / 10)
    left = float(np.sum((weight * others.most)[run]))
    known = (others.noise[run] > 0).all() and theirs > LEAST_OWN * left and off_theirs < theirs * (1 - 1 / near)
    known = known and off_mine < mine * (1 - 1 / near)
    at_least = not (known and most / near < theirs < most * near)
    beyond_db = 10 * np.log10(total * least / most) - LEVEL_DB
    if not at_least:
        beyond_db = min(10 * np.log10(mine / theirs), beyond_db + ESTABLISHED_DB)
    level_db = 10 * float(np.log10(max(mine, 1e-20)))
    return Excess(level_db, float(edges[run.start]), float(edges[run.stop]), float(beyond_db), at_least)


def _own_power(of: Steady, run: slice, weight: Values) -> tuple[float, float]:
    """The mean square of the noise that is one recording's own, band by band, and how far that may be off."""
    value = float(np.sum((weight * (of.noise + of.more))[run])) / 2
    error = np.maximum(of.error, LEAST_ERROR * of.most)
    return max(value, 0.0), SURE / 2 * float(np.sqrt(np.sum(np.square((weight * error)[run]))))


def _own_share(of: Steady, run: slice) -> tuple[float, float]:
    """How much more of a band's noise is its own than the other's: 1 if all, -1 if none; and how far off.

    Where the bands gainsay one another more than their errors allow, as what a room leaves of music does, the errors
    are that much larger.
    """
    error = np.maximum(of.error[run], LEAST_ERROR * of.most[run])
    sure = float(np.sum(np.square(of.noise[run] / error)))
    share = float(np.clip(np.sum(of.more[run] * of.noise[run] / np.square(error)) / sure, -1, 1))
    apart = np.square((of.more[run] - share * of.noise[run]) / error)
    return share, SURE * max(1.0, float(np.sqrt(apart.sum() / (apart.size - 1)))) / np.sqrt(sure)


def _runs(out: NDArray[np.bool_]) -> list[slice]:
    """The runs of enough neighbouring bands that stand out."""
    return [slice(start, end) for start, end in runs(out) if end - start >= ADJACENT]
