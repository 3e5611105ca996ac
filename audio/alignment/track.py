"""Where one whole recording lies against another of the same track: its lag, its clock, how surely, and the next best.

Coarse first, by how the levels move over the whole track; then at several places along it to a fraction of a sample,
which also gives the clock. What decides between lags is the coherence at those places, and for how long one sounds
where the other does not: a loop may fit as well one turn later, but not where the music begins. Files are read in
turn and by stretches, so that an hour needs no more memory than a minute.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from . import coarse, coherence, movements, places, tones
from . import pieces as pieces_audio
from .movements import HOP_S, Movements
from .pieces import Piece
from .places import MOST_PPM, TOGETHER_S
from .stretches import RATE_HZ, Stretch

PLACES = 12
PLACE_S = 4.0
SMEARS_PPM, FINER = 10.0, 2
SHORT_S = 25.0  # the movements of less do not show a clock far off: some are tried
FAR_OFF_PPM = (-400.0, 400.0, -800.0, 800.0)
CANDIDATES = 24
LOOKED_AT = 5  # of them, at the places
NEARLY = 0.75  # of the best likeness: what lies below is not looked at
EQUAL = 0.05  # of the coherence: lags nearer than this are told apart only by what is missing
IN_A_ROOM = 0.5  # correlation at the places: a room whose echoes are louder than the direct sound leaves less
SOUNDING_DB = -20.0  # of the loudest place: there a delay can be told
TONES_AT = 3  # of the loudest places it is asked whether they are single tones
MOVES = 0.5  # likeness from which the movements of the level tell the lag of tones
LONE_S = 10.0  # so much must be the same where less than most of a recording is: see tests/benchmarks/alignment.py
ENDS_S = 1.0
LEAST_S = 1.0
EQUAL_S = 0.2  # missing sound, in seconds
LOST = (
    0.2  # of the likeness: by how much a lag must be better to be looked at first, if all lay beyond the other's ends
)


@dataclass(frozen=True)
class Fit:
    """One lag, and how well the recordings fit there.

    Attributes
    ----------
    lag_s
        How late the other is where the reference begins, in seconds; negative: early.
    ppm
        How much the other's clock runs fast against the reference's, in parts per million.
    coherence
        See `coherence`, at places along the whole track.
    missing_s
        For how long one sounds and the other does not.
    beyond_s
        For how long one sounds where the other's recording has not begun or has ended.
    scatter_s
        How far single places lie off the lag and the clock, as their median; None where too few agree.
    over_s
        How far apart the first and the last of these places are; None where too few agree, or it was not kept.
    """

    lag_s: float
    ppm: float
    coherence: float
    missing_s: float
    beyond_s: float
    scatter_s: float | None
    over_s: float | None = None

    def lag_at(self, time_s: float) -> float:
        """How late the other is at a moment of the reference, in seconds."""
        return self.lag_s + 1e-6 * self.ppm * time_s


@dataclass(frozen=True)
class TrackAlignment:
    """Where a recording lies against another, and the lag that fits next best; None if no other comes near.

    `pieces` are what does fit where one of them is cut, or its clock changes, in turn; none where one lag holds
    throughout. `best` is then that of the longest. `equals` are, where another lag fits as well, all at which the music
    does, also those at which some of it meets silence. `shown`: whether anything shows the lag to better than a step of
    the movements; not where single tones are all that sounds.
    """

    best: Fit
    next_best: Fit | None
    pieces: tuple[Piece, ...] = ()
    shown: bool = True
    equals: tuple[Fit, ...] = ()

    @property
    def found(self) -> bool:
        """Whether both hold the same performance, whole or in pieces."""
        return self.best.coherence >= coherence.SAME

    @property
    def ambiguous(self) -> bool:
        """Whether the next best fits as well."""
        return self.found and self.next_best is not None and equally_good(self.best, self.next_best)

    @property
    def next_worse(self) -> float:
        """By how much less coherent the next best is; 1 without one."""
        return 1.0 if self.next_best is None else self.best.coherence - self.next_best.coherence


def equally_good(best: Fit, other: Fit) -> bool:
    """Whether neither coherence nor missing sound tells two lags apart."""
    return told_apart(best, other) is None


def told_apart(best: Fit, other: Fit) -> Literal["coherence", "missing", "ends"] | None:
    """What tells the best lag from another: its coherence, sound that meets silence at the other, or the ends.

    What lies beyond the other's ends may have been cut off there; but where nothing does, both hold the whole. None
    where both fit as well.
    """
    if not as_coherent(best, other):
        return "coherence"
    if other.missing_s - best.missing_s >= EQUAL_S:
        return "missing"
    return "ends" if best.beyond_s < EQUAL_S <= other.beyond_s - best.beyond_s else None


def as_coherent(best: Fit, other: Fit) -> bool:
    """Whether the music itself fits at another lag as well as at the best."""
    return best.coherence - other.coherence < EQUAL * best.coherence


def fit_at(reference: Path, other: Path, lag_s: float, ppm: float = 0.0) -> Fit | None:
    """How well a file fits at about a lag, in seconds, with a clock in ppm; None where the two share too little there.

    Raises
    ------
    FileError, MeasureError
        As `align_files`.
    """
    one, two = movements.of_file(reference), movements.of_file(other)
    tried = _try(reference, other, one, two, coarse.Lag(lag_s, ppm, 0.0))
    return None if tried is None else tried.fit


def align_files(
    reference: Path, other: Path, one: Movements | None = None, two: Movements | None = None
) -> TrackAlignment | None:
    """Where a file lies against another; None where nothing in them is alike.

    Parameters
    ----------
    one, two
        Their movements, where they are known already.

    Raises
    ------
    FileError
        If a file cannot be read.
    MeasureError
        If one is shorter than one second, or silent.
    """
    one, two = one or movements.of_file(reference), two or movements.of_file(other)
    whole, even = _whole(reference, other, one, two)
    if whole is not None and whole.found and even and (whole.best.beyond_s < LONE_S or not whole.shown):
        return whole
    return _in_pieces(reference, other, one, two, whole)


def _whole(reference: Path, other: Path, one: Movements, two: Movements) -> tuple[TrackAlignment | None, bool]:
    """The one lag that fits best, and whether every place that sounds lies on it; None where nothing is alike."""
    likely = _likely(one, two)
    tried = _try_each(reference, other, one, two, likely[:LOOKED_AT])
    if not tried:
        return None, False
    if max(each.fit.coherence for each in tried) < coherence.SAME and one.length_s < SHORT_S:
        middle_s = one.length_s / 2
        for ppm in FAR_OFF_PPM:
            lag = coarse.Lag(likely[0].lag_s - 1e-6 * ppm * middle_s, ppm, likely[0].likeness)
            tried += _try_each(reference, other, one, two, [lag])
    laid, own = _best(one, two, tried)
    if laid.ambiguous and not own.tones:  # a loop: whoever is asked is told of every turn
        tried += _try_each(reference, other, one, two, likely[LOOKED_AT:])
        tried += _try_each(reference, other, one, two, _turns(one, two, _best(one, two, tried)[0], tried))
        laid, own = _best(one, two, tried)
    if own.tones:
        return _by_movements(one, two, own), True
    return laid, own.even


def _turns(one: Movements, two: Movements, laid: TrackAlignment, tried: Sequence[_Tried]) -> list[coarse.Lag]:
    """Further turns of a loop, the nearest first, of which enough is in both: some of it may meet silence there."""
    if not laid.equals:
        return []
    known = [each.fit.lag_s for each in tried]
    best, turn_s = laid.best, min(abs(fit.lag_s - laid.best.lag_s) for fit in laid.equals)
    reach_s = min(coarse.REACH_S, max(one.length_s, two.length_s))
    least_s = max(coarse.LEAST_S, coarse.LEAST_SHARE * min(one.length_s, two.length_s))
    lags_s = [best.lag_s + turn * turn_s for turn in range(-int(2 * reach_s / turn_s), int(2 * reach_s / turn_s) + 1)]
    found = [
        coarse.Lag(lag_s, best.ppm, best.coherence)
        for lag_s in sorted(lags_s, key=abs)
        if abs(lag_s) <= reach_s
        and min(one.length_s, two.length_s - lag_s) - max(0.0, -lag_s) >= least_s
        and all(abs(lag_s - other_s) >= coarse.APART_S for other_s in known)
    ]
    return found[: max(CANDIDATES - len(tried), 0)]


def _try_each(reference: Path, other: Path, one: Movements, two: Movements, lags: Sequence[coarse.Lag]) -> list[_Tried]:
    """How two files fit about each of some lags, without those at which they share too little."""
    return [each for lag in lags if (each := _try(reference, other, one, two, lag)) is not None]


def _best(one: Movements, two: Movements, tried: Sequence[_Tried]) -> tuple[TrackAlignment, _Tried]:
    """The lag that fits best of those tried, with those next to it, and what was tried there."""
    fits = sorted((each.fit for each in tried), key=lambda fit: fit.coherence, reverse=True)
    near = [fit for fit in fits if fits[0].coherence - fit.coherence <= EQUAL * abs(fits[0].coherence)]
    shortest = min(one.length_s, two.length_s)

    def lost(fit: Fit) -> tuple[int, float]:  # what is missing counts by the share of what both hold
        return round(fit.missing_s * shortest / max(_shared_s(one, two, fit), LEAST_S) / EQUAL_S), fit.beyond_s

    best = min(near, key=lost)
    rest = [fit for fit in fits if abs(fit.lag_s - best.lag_s) >= coarse.APART_S]
    rest.sort(
        key=lambda fit: (not equally_good(best, fit), fit.beyond_s if equally_good(best, fit) else -fit.coherence)
    )
    own = next(each for each in tried if each.fit is best)
    return TrackAlignment(best, rest[0] if rest else None, equals=_equals(best, rest)), own


def _equals(best: Fit, rest: Sequence[Fit]) -> tuple[Fit, ...]:
    """The other turns of a loop, each once, if any of them fits as well as the best."""
    found: list[Fit] = []
    for fit in rest if rest and equally_good(best, rest[0]) else ():
        if as_coherent(best, fit) and all(abs(fit.lag_s - known.lag_s) >= coarse.APART_S for known in found):
            found.append(fit)
    return tuple(found)


def _by_movements(one: Movements, two: Movements, tried: _Tried) -> TrackAlignment:
    """The alignment of single tones, which fit at every period: as the levels move, or in place where nothing tells."""
    lag = tried.lag
    whole = all(each(one, two, 0.0) < EQUAL_S for each in (coarse.missing_s, coarse.beyond_s))
    in_place = abs(lag.lag_s) <= HOP_S or (whole and lag.likeness < MOVES)
    late_s = 0.0 if in_place else float(lag.lag_s)
    fit = replace(tried.fit, lag_s=late_s, ppm=0.0, scatter_s=None)
    return TrackAlignment(fit, None, shown=False)


def _shared_s(one: Movements, two: Movements, fit: Fit) -> float:
    """How much both hold at a lag, in seconds."""
    return min(one.length_s, two.length_s - fit.lag_s) - max(0.0, -fit.lag_s)


def _in_pieces(
    reference: Path, other: Path, one: Movements, two: Movements, whole: TrackAlignment | None
) -> TrackAlignment | None:
    """The alignment of the pieces that fit, where that explains more than one lag does; else the whole one."""
    found = pieces_audio.pieces(reference, other, one, two)
    held_s = sum(each.end_s - each.start_s for each in found)
    if held_s < LONE_S:
        return whole
    longest = max(found, key=lambda each: each.end_s - each.start_s)
    missing, beyond = (each(one, two, longest.lag_s) for each in (coarse.missing_s, coarse.beyond_s))
    best = Fit(longest.lag_s, longest.ppm, longest.coherence, missing, beyond, longest.scatter_s)
    if whole is not None and whole.found:
        one_lag = abs(whole.best.lag_s - best.lag_s) < coarse.APART_S
        if len(found) < 2 or not (one_lag or held_s > _shared_s(one, two, whole.best)):
            return whole
    if len(found) == 1 and held_s > _shared_s(one, two, best) - ENDS_S:  # all that both hold: no cut
        found = ()
    return TrackAlignment(best, None, found)


def _likely(one: Movements, two: Movements) -> list[coarse.Lag]:
    """The lags worth a closer look: alike enough, those first in which least is missing."""
    found = coarse.lags(one, two, CANDIDATES)
    if not found:
        return []
    shortest = min(one.length_s, two.length_s)
    worth = {
        lag: lag.likeness
        - coarse.missing_s(one, two, lag.lag_s) / shortest
        - LOST * coarse.beyond_s(one, two, lag.lag_s) / (one.length_s + two.length_s)
        for lag in found
    }
    ranked = sorted(found, key=lambda lag: -worth[lag])
    return [lag for lag in ranked if worth[lag] >= NEARLY * worth[ranked[0]]]


@dataclass(frozen=True)
class _Tried:
    """A fit, whether every place that sounds lies on its lag and clock, and whether all are single tones."""

    fit: Fit
    even: bool
    lag: coarse.Lag
    tones: bool


def _try(reference: Path, other: Path, one: Movements, two: Movements, lag: coarse.Lag) -> _Tried | None:
    """How two files fit about a lag; None where they share too little."""
    begin = max(0.0, -lag.lag_s)
    end = min(one.length_s, two.length_s - lag.lag_s)
    length_s = min(PLACE_S, (end - begin) / 3)
    if length_s < 0.3:
        return None
    count = int(np.clip((end - begin) / length_s, 3, PLACES))
    starts = [float(start) for start in begin + np.arange(count) * (end - begin - length_s) / (count - 1)]
    near = [lag.lag_s + 1e-6 * lag.ppm * start for start in starts]
    heard, answer = places.read_both(reference, other, starts, near, length_s)
    read = places.delays(heard, answer, near)
    pair, delays = read.pair, read.late_s
    times = np.array([part.start_s + length_s / 2 for part in heard])
    late, ppm, agree = _line(times, delays, lag)
    for _ in range(FINER if abs(ppm) > SMEARS_PPM else 0):  # such a clock smears each delay: they are read without it
        delays = _again(heard, answer, pair, late, ppm) + late + 1e-6 * ppm * times
        late, ppm, agree = _line(times, delays, lag)
    off = delays - (late + 1e-6 * ppm * times)
    scatter = float(np.median(np.abs(off[agree]))) if agree.any() else None
    across = np.concatenate(
        [
            places.across(one_part, two_part, pair, late + (wander if believed else 0.0), ppm)
            for one_part, two_part, wander, believed in zip(heard, answer, off, agree, strict=True)
        ]
    )
    per_place = len(across) // count
    alike = coherence.steadiness(across, per_place)
    if alike >= coherence.SAME and read.alike < IN_A_ROOM:  # an echo that lasts may pass for the start at every place
        late, ppm = places.start(heard, answer, late, ppm) or (late, ppm)
    missing, beyond = (each(one, two, lag.lag_s) for each in (coarse.missing_s, coarse.beyond_s))
    loud = np.array([float(np.mean(np.square(part.samples))) for part in heard])
    sounds = loud > 10 ** (SOUNDING_DB / 10) * loud.max()
    loudest = [heard[place].samples[:, pair[0]] for place in np.argsort(-loud)[:TONES_AT]]
    single = sum(tones.only_tones(each, RATE_HZ) for each in loudest) > len(loudest) / 2
    over = float(np.ptp(times[agree])) if agree.any() else None
    fit = Fit(late, ppm, alike, missing, beyond, scatter, over)
    return _Tried(fit, bool(np.all(agree | ~sounds)), lag, single)


def _again(
    heard: Sequence[Stretch], answer: Sequence[Stretch], pair: tuple[int, int], late_s: float, ppm: float
) -> NDArray[np.float64]:
    """How late the other still is at each place, in seconds, when it is read by a lag and a clock."""
    return np.array([places.left_over(*both, pair, late_s, ppm) for both in zip(heard, answer, strict=True)])


def _line(
    times: NDArray[np.float64], delays: NDArray[np.float64], lag: coarse.Lag
) -> tuple[float, float, NDArray[np.bool_]]:
    """The lag at the reference's start, the clock in ppm, and which places lie on them; the coarse ones if too few."""
    best = np.zeros(times.size, dtype=bool)
    for first, second in combinations(range(times.size), 2):
        slope = (delays[second] - delays[first]) / (times[second] - times[first])
        if abs(slope) <= 1e-6 * MOST_PPM:
            agree = np.abs(delays - delays[first] - slope * (times - times[first])) <= TOGETHER_S
            if agree.sum() > best.sum():
                best = agree
    if best.sum() < max(3, times.size // 2):
        return lag.lag_s, lag.ppm, np.zeros(times.size, dtype=bool)
    when, late = times[best], delays[best]
    pairs = np.triu_indices(when.size, 1)
    slope = float(np.median((late[pairs[1]] - late[pairs[0]]) / (when[pairs[1]] - when[pairs[0]])))
    return float(np.median(late - slope * when)), 1e6 * slope, best
