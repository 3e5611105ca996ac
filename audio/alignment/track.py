"""Where one whole recording lies against another of the same track: its lag, its clock, how surely, and the next best.

Coarse first, by how the levels move over the whole track; then at several places along it to a fraction of a sample,
which also gives the clock. What decides between lags is the coherence at those places, and for how long one sounds
where the other does not: a loop may fit as well one turn later, but not where the music begins. Files are read in
turn and by stretches, so that an hour needs no more memory than a minute.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from . import coarse, coherence, movements, one_lag
from . import pieces as pieces_audio
from .movements import HOP_S, Movements
from .one_lag import Fit, Tried
from .pieces import Piece

SHORT_S = 25.0  # the movements of less do not show a clock far off: some are tried
FAR_OFF_PPM = (-400.0, 400.0, -800.0, 800.0)
CANDIDATES = 24
LOOKED_AT = 5  # of them, at the places
NEARLY = 0.75  # of the best likeness: what lies below is not looked at
EQUAL = 0.05  # of the coherence: lags nearer than this are told apart only by what is missing
MOVES = 0.5  # likeness from which the movements of the level tell the lag of tones
LONE_S = 10.0  # so much must be the same where less than most of a recording is: see tests/benchmarks/alignment.py
ENDS_S = 1.0
LEAST_S = 1.0
EQUAL_S = 0.2  # missing sound, in seconds
LOST = (
    0.2  # of the likeness: by how much a lag must be better to be looked at first, if all lay beyond the other's ends
)


@dataclass(frozen=True)
class TrackAlignment:
    """Where a recording lies against another, and the lag that fits next best; None if no other comes near.

    `pieces` are what does fit where one of them is cut, or its clock changes, in turn; none where one lag holds
    throughout. `best` is then that of the longest. `equals` are, where another lag fits as well, all at which the music
    does, also those at which some of it meets silence. `shown`: whether anything shows the lag to better than a step of
    the movements; not where single tones are all that sounds. `hidden`: whether rooms hide the direct sound, so that
    the lag may be an echo's.
    """

    best: Fit
    next_best: Fit | None
    pieces: tuple[Piece, ...] = ()
    shown: bool = True
    equals: tuple[Fit, ...] = ()
    hidden: bool = False

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
    tried = one_lag.tried(reference, other, one, two, coarse.Lag(lag_s, ppm, 0.0))
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


def _turns(one: Movements, two: Movements, laid: TrackAlignment, tried: Sequence[Tried]) -> list[coarse.Lag]:
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


def _try_each(reference: Path, other: Path, one: Movements, two: Movements, lags: Sequence[coarse.Lag]) -> list[Tried]:
    """How two files fit about each of some lags, without those at which they share too little."""
    return [each for lag in lags if (each := one_lag.tried(reference, other, one, two, lag)) is not None]


def _best(one: Movements, two: Movements, tried: Sequence[Tried]) -> tuple[TrackAlignment, Tried]:
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
    laid = TrackAlignment(best, rest[0] if rest else None, equals=_equals(best, rest), hidden=own.hidden)
    return laid, own


def _equals(best: Fit, rest: Sequence[Fit]) -> tuple[Fit, ...]:
    """The other turns of a loop, each once, if any of them fits as well as the best."""
    found: list[Fit] = []
    for fit in rest if rest and equally_good(best, rest[0]) else ():
        if as_coherent(best, fit) and all(abs(fit.lag_s - known.lag_s) >= coarse.APART_S for known in found):
            found.append(fit)
    return tuple(found)


def _by_movements(one: Movements, two: Movements, tried: Tried) -> TrackAlignment:
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
