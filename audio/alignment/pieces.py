"""Recordings that no single lag brings together: the pieces that do fit, each with its own lag and clock, and the cuts.

Which lag may hold where is told by how the levels move, stretch by stretch; what follows one line of delay is a piece.
Where it ends is looked for in the music itself. A piece counts if it is the same performance (`coherence`) and no
other lag explains it as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from . import coherence, places
from .coarse import REACH_S
from .movements import HOP_S, Movements
from .places import MOST_PPM, TOGETHER_S
from .stretches import RATE_HZ

STRETCH_S, EVERY_S = 6.0, 3.0  # by which lags are looked for
PEAKS = 3  # of each
SAME_S = 0.06  # nearer lags are the same one
LAGS = 16
BLOCK_S = 0.5
NOWHERE = 0.2  # likeness below which a block is taken to fit nowhere
CHANGE_S = 2.0  # of music alike throughout: what a change of the lag must be worth
LEAST_S = 6.0  # a shorter piece is none
PLACE_S = 2.0
FEWEST, MOST = 4, 40  # places in a run
MORE = 2.0  # so many of them another line must explain besides
SMEARS_PPM, FINER = 10.0, 2
OFF_S = 0.1  # two lags so far apart are told apart by how well the music fits; nearer ones by where their lines meet
WINDOW_S = 0.1  # by which the cut is looked for
UNSURE = 0.3  # correlation in a window below which it speaks against a lag
AS_WELL = 0.95  # of the movements' likeness: such a rival lag is looked at
EQUAL = 0.05  # of the coherence: as well

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Piece:
    """A stretch of the reference, in seconds, that the other holds under one lag and clock; see `Fit` for these."""

    start_s: float
    end_s: float
    lag_s: float
    ppm: float
    coherence: float
    scatter_s: float | None

    def lag_at(self, time_s: float) -> float:
        """How late the other is at a moment of the reference, in seconds."""
        return self.lag_s + 1e-6 * self.ppm * time_s


@dataclass(frozen=True)
class _Run:
    """Places in turn that one line explains: when they begin and end, and the line."""

    begin_s: float
    end_s: float
    lag_s: float
    ppm: float

    def lag_at(self, time_s: float) -> float:
        return self.lag_s + 1e-6 * self.ppm * time_s


def pieces(reference: Path, other: Path, one: Movements, two: Movements) -> tuple[Piece, ...]:
    """The pieces of the reference that the other holds, in turn; none where nothing fits.

    Raises
    ------
    FileError
        If a file cannot be read.
    """
    lags, blocks = _blocks(one, two)
    runs: list[_Run] = []
    for first, last, lag in _coarse_runs(lags, blocks):
        begin, end = max(first * BLOCK_S, 0.0, -lag), min(last * BLOCK_S, one.length_s, two.length_s - lag)
        if end - begin >= LEAST_S:
            runs += _fine_runs(reference, other, begin, end, lag)
    bounded = _bounded(reference, other, _joined(runs), one.length_s, two.length_s)
    found = []
    for run in bounded:
        if run.end_s - run.begin_s < LEAST_S:
            continue
        seen = _seen(reference, other, run)
        if seen.coherence >= coherence.SAME and not _rivalled(reference, other, run, seen.coherence, lags, blocks):
            found.append(seen)
    return tuple(found)


def _blocks(one: Movements, two: Movements) -> tuple[Numbers, Numbers]:
    """Lags that may hold somewhere, in seconds, and how much each is worth in each block; shape (lags, blocks).

    The worth is the sum of products of both's movements, as a share of what a second of the reference holds on average.
    """
    mine, theirs = one.moved.astype(np.float64), two.moved.astype(np.float64)
    alive = (np.abs(mine).max(axis=0) > 0) & (np.abs(theirs).max(axis=0) > 0)
    mine, theirs = mine[:, alive], theirs[:, alive]
    if mine.shape[1] == 0:
        return np.empty(0), np.empty((0, 0))
    lags = _lags(mine, theirs)
    block = round(BLOCK_S / HOP_S)
    count = len(mine) // block
    worth = np.zeros((lags.size, count))
    for row, lag_s in enumerate(lags):
        near = []
        for step in (-1, 0, 1):  # what a step of 20 ms and a clock leave
            by = round(lag_s / HOP_S) + step
            moved = np.zeros_like(mine)
            low, high = max(0, -by), min(len(mine), len(theirs) - by)
            if high > low:
                moved[low:high] = theirs[low + by : high + by]
            products = np.sum(mine * moved, axis=1)[: count * block]
            near.append(products.reshape(count, block).sum(axis=1))
        worth[row] = np.max(near, axis=0)
    per_second = float(np.sum(np.square(mine))) / (len(mine) * HOP_S)
    return lags, worth / per_second


def _lags(mine: Numbers, theirs: Numbers) -> Numbers:
    """The lags, in seconds, at which most of single stretches fit best."""
    length, hop = round(STRETCH_S / HOP_S), round(EVERY_S / HOP_S)
    reach = min(round(REACH_S / HOP_S), max(len(mine), len(theirs)))
    energy = np.concatenate([[0.0], np.cumsum(np.sum(np.square(np.pad(theirs, ((reach, reach + length), (0, 0)))), 1))])
    room = np.pad(theirs, ((reach, reach + length), (0, 0)))
    votes: dict[int, float] = {}
    apart = round(SAME_S / HOP_S)
    for start in range(0, max(len(mine) - length, 0) + 1, hop):
        part = mine[start : start + length]
        there = room[start : start + len(part) + 2 * reach]
        size = 1 << (len(there) + len(part) - 1).bit_length()
        lines = np.fft.rfft(there, size, axis=0) * np.conj(np.fft.rfft(part, size, axis=0))
        along = np.fft.irfft(lines.sum(axis=1), size)[: len(there) - len(part) + 1]
        own = float(np.sum(np.square(part)))
        held = energy[start + len(part) : start + len(part) + along.size] - energy[start : start + along.size]
        alike = along / np.sqrt(np.maximum(own * np.maximum(held, 0.3 * own), 1e-12))
        for _ in range(PEAKS):
            at = int(np.argmax(alike))
            if alike[at] < NOWHERE:
                break
            votes[at - reach] = votes.get(at - reach, 0.0) + float(alike[at]) ** 2
            alike[max(0, at - apart) : at + apart + 1] = -1.0
    chosen: list[int] = []
    for by in sorted(votes, key=lambda each: -sum(votes.get(each + step, 0.0) for step in (-1, 0, 1))):
        if all(abs(by - each) >= apart for each in chosen):
            chosen.append(by)
    return np.array(chosen[:LAGS]) * HOP_S


def _coarse_runs(lags: Numbers, worth: Numbers) -> list[tuple[int, int, float]]:
    """The likeliest course of the lag: from which block to which, and the lag; what fits nowhere is left out.

    A change costs what `CHANGE_S` of music is worth (the way through a trellis that is worth most, found block by
    block).
    """
    if worth.size == 0:
        return []
    nowhere = np.full((1, worth.shape[1]), NOWHERE * BLOCK_S)
    gains = np.concatenate([worth, nowhere])
    so_far = gains[:, 0].copy()
    came = np.zeros(gains.shape, dtype=int)
    for at in range(1, gains.shape[1]):
        best = int(np.argmax(so_far))
        change = so_far[best] - CHANGE_S / 2 > so_far
        came[:, at] = np.where(change, best, np.arange(len(gains)))
        so_far = np.where(change, so_far[best] - CHANGE_S / 2, so_far) + gains[:, at]
    state = int(np.argmax(so_far))
    states = [state]
    for at in range(gains.shape[1] - 1, 0, -1):
        state = int(came[state, at])
        states.append(state)
    states.reverse()
    edges = [0, *(at for at in range(1, len(states)) if states[at] != states[at - 1]), len(states)]
    return [(first, last, float(lags[states[first]])) for first, last in pairwise(edges) if states[first] < lags.size]


def _fine_runs(reference: Path, other: Path, begin_s: float, end_s: float, lag_s: float) -> list[_Run]:
    """The lines of delay that places from one moment to another follow, in turn."""
    count = int(np.clip((end_s - begin_s) / PLACE_S, FEWEST, MOST))
    starts = [float(each) for each in begin_s + np.arange(count) * (end_s - begin_s - PLACE_S) / (count - 1)]
    near = [lag_s] * count
    heard, answer = places.read_both(reference, other, starts, near, PLACE_S)
    read = places.delays(heard, answer, near)
    pair, delays = read.pair, read.late_s
    times = np.array([each.start_s + PLACE_S / 2 for each in heard])
    for _ in range(FINER):  # a clock smears each delay: they are read without it
        lines = _lines(times, delays)
        for place, (one, two, when) in enumerate(zip(heard, answer, times, strict=True)):
            line = min(lines, key=lambda run: max(run.begin_s - when, when - run.end_s), default=None)
            if line is not None and abs(line.ppm) > SMEARS_PPM:
                left_s = places.left_over(one, two, pair, line.lag_s, line.ppm)
                delays[place] = line.lag_at(when) + left_s
    return _lines(times, delays)


def _lines(times: Numbers, delays: Numbers) -> list[_Run]:
    """Lines of delay through places in turn, as few as explain them: another must explain two places more."""
    fits, whole = _best_line(times, delays)
    best, at = fits + MORE, 0
    for cut in range(FEWEST - 1, times.size - FEWEST + 2):
        both = _best_line(times[:cut], delays[:cut])[0] + _best_line(times[cut:], delays[cut:])[0]
        if both > best:
            best, at = both, cut
    if at:
        return _lines(times[:at], delays[:at]) + _lines(times[at:], delays[at:])
    if whole.sum() < max(3, times.size // 2):
        return []
    when, late = times[whole], delays[whole]
    first, second = np.triu_indices(when.size, 1)
    slope = float(np.median((late[second] - late[first]) / (when[second] - when[first])))
    return [_Run(float(when[0]), float(when[-1]), float(np.median(late - slope * when)), 1e6 * slope)]


def _best_line(times: Numbers, delays: Numbers) -> tuple[float, NDArray[np.bool_]]:
    """How many places the best line through two of them explains, each the less the farther it is off; and which."""
    first, second = np.triu_indices(times.size, 1)
    slopes = (delays[second] - delays[first]) / (times[second] - times[first])
    kept = np.abs(slopes) <= 1e-6 * MOST_PPM
    if not kept.any():
        return 0.0, np.zeros(times.size, dtype=bool)
    first, slopes = first[kept, None], slopes[kept, None]
    off = np.abs(delays - delays[first] - slopes * (times - times[first])) / TOGETHER_S
    fits = np.sum(np.maximum(1 - off, 0), axis=1)
    best = int(np.argmax(fits))
    return float(fits[best]), off[best] <= 1


def _joined(runs: Sequence[_Run]) -> list[_Run]:
    """Runs in turn, those made one that lie on one line."""
    found: list[_Run] = []
    for run in runs:
        before = found[-1] if found else None
        on_one_line = before is not None and all(
            abs(before.lag_at(when) - run.lag_at(when)) <= TOGETHER_S
            for when in (before.begin_s, before.end_s, run.begin_s, run.end_s)
        )
        if before is not None and on_one_line:
            longer = max(before, run, key=lambda each: each.end_s - each.begin_s)
            found[-1] = replace(longer, begin_s=before.begin_s, end_s=run.end_s)
        else:
            found.append(run)
    return found


def _bounded(reference: Path, other: Path, runs: Sequence[_Run], length_s: float, other_length_s: float) -> list[_Run]:
    """Runs drawn out to the cuts between them, and to the recordings' ends."""
    found = list(runs)
    for place, (before, after) in enumerate(pairwise(runs)):
        ends_s, begins_s = _cut(reference, other, before, after)
        found[place] = replace(found[place], end_s=ends_s)
        found[place + 1] = replace(found[place + 1], begin_s=begins_s)
    if found:
        first, last = found[0], found[-1]
        if first.begin_s < STRETCH_S:
            found[0] = replace(first, begin_s=max(0.0, -first.lag_at(0.0)))
        end_s = min(length_s, other_length_s - last.lag_at(length_s))
        if length_s - last.end_s < STRETCH_S or other_length_s - last.lag_at(length_s) - last.end_s < STRETCH_S:
            found[-1] = replace(found[-1], end_s=end_s)
    return found


def _cut(reference: Path, other: Path, before: _Run, after: _Run) -> tuple[float, float]:
    """When one run ends and the next begins: what lies between, the other lacks.

    Of what is told by windows of `WINDOW_S`, the moment is taken before which the one lag and after which the other
    fits best.
    """
    more_s = after.lag_at(after.begin_s) - before.lag_at(before.end_s)  # what the other holds more
    lacks_s = max(0.0, -more_s)
    if abs(more_s) < OFF_S:
        bend = 1e-6 * (after.ppm - before.ppm)
        met_s = (before.lag_s - after.lag_s) / bend if bend else before.end_s
        if before.end_s - PLACE_S <= met_s <= after.begin_s + PLACE_S:
            return met_s, met_s
    low_s, high_s = before.end_s, max(after.begin_s, before.end_s + lacks_s + WINDOW_S)
    span_s = high_s - low_s
    if span_s > 4 * STRETCH_S:  # far apart: nothing between them is claimed
        return before.end_s, after.begin_s
    worth = []
    for run in (before, after):
        heard, answer = places.read_both(reference, other, [low_s], [run.lag_at(low_s)], span_s)
        pair = places.delays(heard, answer, [run.lag_at(low_s)]).pair
        own = heard[0].samples[:, pair[0]]
        there = places.read_late(heard[0], answer[0], pair[1], run.lag_s, run.ppm)
        worth.append(_fitting(own, there))
    count = min(each.size for each in worth)
    gap = round(lacks_s / (WINDOW_S / 2))
    kept, begun = (np.concatenate([[0.0], np.cumsum(each[:count])]) for each in worth)
    cuts = np.arange(max(count - gap, 0) + 1)
    sums = kept[cuts] + begun[-1] - begun[np.minimum(cuts + gap, count)]
    at = float(cuts[int(np.argmax(sums))]) * WINDOW_S / 2
    return low_s + at, low_s + at + lacks_s


def _fitting(one: Numbers, two: Numbers) -> Numbers:
    """How far single windows (end to end by half their length) speak for a lag: above 0 for it, below against it."""
    hop = round(WINDOW_S / 2 * RATE_HZ)
    count = one.size // hop
    rows = (each[: count * hop].reshape(count, hop) for each in (_middle(one), _middle(two)))
    first, second = rows
    sums = [np.sum(a * b, axis=1) for a, b in ((first, second), (first, first), (second, second))]
    across, mine, theirs = (np.convolve(each, [1.0, 1.0, 1.0], "same") for each in sums)
    alike = across / np.sqrt(np.maximum(mine * theirs, 1e-20))
    loud = np.sqrt(np.maximum(mine, 0) / max(float(mine.max(initial=0.0)), 1e-20))
    return np.asarray((np.abs(alike) - UNSURE) * loud)


def _middle(samples: Numbers) -> Numbers:
    """The band in which recordings are compared, of one signal."""
    lines = np.fft.rfft(samples)
    freqs = np.fft.rfftfreq(samples.size, 1 / RATE_HZ)
    lines[(freqs < coherence.BAND_HZ[0]) | (freqs > coherence.BAND_HZ[1])] = 0
    return np.asarray(np.fft.irfft(lines, samples.size))


def _seen(reference: Path, other: Path, run: _Run) -> Piece:
    """How well a run fits."""
    length_s = run.end_s - run.begin_s
    count = int(np.clip(length_s / PLACE_S, 3, MOST // 2))
    starts = [float(each) for each in run.begin_s + np.arange(count) * (length_s - PLACE_S) / (count - 1)]
    near = [run.lag_at(start) for start in starts]
    heard, answer = places.read_both(reference, other, starts, near, PLACE_S)
    pair = places.delays(heard, answer, near).pair
    off = np.array([places.left_over(*both, pair, run.lag_s, run.ppm) for both in zip(heard, answer, strict=True)])
    agree = np.abs(off) <= TOGETHER_S
    across = [
        places.across(own, there, pair, run.lag_s + (by if near_by else 0.0), run.ppm)
        for own, there, by, near_by in zip(heard, answer, off, agree, strict=True)
    ]
    alike = coherence.steadiness(np.concatenate(across), len(across[0]))
    scatter_s = float(np.median(np.abs(off[agree]))) if agree.any() else None
    return Piece(run.begin_s, run.end_s, run.lag_s, run.ppm, alike, scatter_s)


def _rivalled(reference: Path, other: Path, run: _Run, alike: float, lags: Numbers, worth: Numbers) -> bool:
    """Whether another lag explains a run as well, as a turn of a loop does."""
    first, last = round(run.begin_s / BLOCK_S), round(run.end_s / BLOCK_S)
    sums = worth[:, first:last].sum(axis=1)
    own = np.abs(lags - run.lag_at((run.begin_s + run.end_s) / 2)) < SAME_S
    most = float(sums[own].max()) if own.any() else float(sums.max(initial=0.0))
    for place in np.flatnonzero(~own & (sums >= AS_WELL * most)):
        rival = replace(run, lag_s=float(lags[place]), ppm=0.0)
        fitted = _fine_runs(reference, other, run.begin_s, run.end_s, rival.lag_s)
        if len(fitted) == 1:
            seen = _seen(reference, other, replace(fitted[0], begin_s=run.begin_s, end_s=run.end_s))
            if seen.coherence >= (1 - EQUAL) * alike:
                return True
    return False
