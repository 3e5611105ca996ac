"""Where two recordings are out of step or one of them falls silent, from band powers over time. Pure.

What only such a place makes different is no difference between setups. Levels that move together move together through
any loudspeaker; where they do so a fifth of a second apart or more, something was cut out or put in. Less than that
the averaging over seconds of `loudness_pattern` takes away.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]

GROUPS = 10  # of neighbouring bands
FLOOR_DB = 50.0  # below a group's own mean its levels' movement is noise; our choice
SEARCH_S = 2.0  # how far apart the same music is looked for
WINDOW_S = 4.0
MOVES_DB = 0.5  # levels that move less than this from step to step cannot tell where they are
BETTER = 0.15  # so much more alike elsewhere is out of step; see the tests for pairs that are in step
UNLIKE = 0.45  # so little alike, with music that moves, is other music; two rooms of 0.8 s leave 0.62 and more
FALLEN_DB = 30.0  # one recording this far down against the other, and against how they are elsewhere, has a hole
HOLE_WINDOW_S = 0.5
PLAYS_DB = 20.0  # below its own mean a recording does not play as usual beside a silence of the other; our choice
STEADY_DB, STEADY = 3.0, 0.8  # hum and noise move by less in so many of the steps; our choice
PAUSED_DB = FALLEN_DB / 2  # one so far down against the other pauses there too, though noise of a step beside it is in


def out_of_step(one: Numbers, other: Numbers, hop_s: float) -> Flags:
    """Whether two setups' band powers, shape (steps, bands), do not hold the same music at each step."""
    first, second = _levels_db(one), _levels_db(other)
    return np.asarray(_elsewhere(first, second, hop_s) | (_fallen(one, other, hop_s) != 0))


def silent(one: Numbers, other: Numbers, hop_s: float) -> NDArray[np.int8]:
    """Which of two setups is silent at each step where the other plays about as loud as usual: 1, 2, or 0 for neither.

    Where the other is faint as well, it may be a room that rings on into a pause. Negative where the music pauses, and
    all that the other holds is a hum or a noise of its own: that is no dropout of the quieter one.
    """
    window = round(HOLE_WINDOW_S / hop_s)
    which = _fallen(one, other, hop_s)
    found = np.zeros(len(which), dtype=np.int8)
    powers = [np.sum(each, axis=1) for each in (one, other)]
    edges = np.flatnonzero(np.diff(which, prepend=0, append=0))
    for begin, end in pairwise(edges):
        if which[begin]:
            gone, plays = powers if which[begin] == 1 else powers[::-1]
            if np.median(plays[begin:end]) > plays.mean() * 10 ** (-PLAYS_DB / 10):
                sign = -1 if _only_noise(gone, plays, slice(begin, end), window) else 1
                found[max(begin - window // 2, 0) : end + window // 2] = sign * which[begin]
    return found


def _only_noise(gone: Numbers, plays: Numbers, where: slice, window: int) -> bool:
    """Whether what one holds where the other is silent is its own noise: steady, and no music wherever it is so faint.

    A held note is steady too, but elsewhere, as loud, it is in both.
    """
    levels_db = 10 * np.log10(np.maximum(plays, 1e-20))
    apart_db = levels_db - 10 * np.log10(np.maximum(gone, 1e-20))
    sounding = plays > plays.mean() * 10 ** (-FLOOR_DB / 10)
    paused = apart_db - np.median(apart_db[sounding]) > PAUSED_DB
    inside = levels_db[where][paused[where]]
    if not inside.size or float(np.quantile(np.abs(inside - np.median(inside)), STEADY)) > STEADY_DB / 2:
        return False
    elsewhere = np.abs(levels_db - np.median(inside)) < STEADY_DB
    elsewhere[max(where.start - window, 0) : where.stop + window] = False
    return not elsewhere.any() or float(paused[elsewhere].mean()) > 0.5


def _elsewhere(first: Numbers, second: Numbers, hop_s: float) -> Flags:
    window, reach = round(WINDOW_S / hop_s), round(SEARCH_S / hop_s)
    steps = len(first)
    if steps < 2 * window:
        return np.zeros(steps, dtype=bool)
    moves, others = (np.diff(levels, axis=0, prepend=levels[:1]) for levels in (first, second))
    own, theirs = (_around(np.sum(np.square(each), axis=1), window) for each in (moves, others))
    padded = np.pad(others, ((reach, reach), (0, 0)))
    energy = np.pad(theirs, reach, mode="edge")
    alike = np.empty((2 * reach + 1, steps))
    for lag in range(2 * reach + 1):
        together = _around(np.einsum("ij,ij->i", moves, padded[lag : lag + steps]), window)
        alike[lag] = together / np.sqrt(np.maximum(own * energy[lag : lag + steps], 1e-9))
    here = np.max(alike[reach - 1 : reach + 2], axis=0)
    there = np.maximum(np.max(alike[: reach - 1], axis=0), np.max(alike[reach + 2 :], axis=0))
    moving = np.minimum(own, theirs) > MOVES_DB**2 * moves.shape[1]
    return np.asarray(moving & ((there > here + BETTER) | (here < UNLIKE)))


def _fallen(one: Numbers, other: Numbers, hop_s: float) -> NDArray[np.int8]:
    """Which of two setups (1 or 2; 0: neither) is far fainter at each step than it usually is against the other."""
    window = round(HOLE_WINDOW_S / hop_s)
    first, second = (_around(np.sum(powers, axis=1), window) for powers in (one, other))
    sounding = np.maximum(first / first.max(), second / second.max()) > 10 ** (-FLOOR_DB / 10)
    apart = 10 * np.log10(first / second)
    usual = float(np.median(apart[sounding]))
    by_db = np.where(sounding, apart - usual, 0.0)
    return np.asarray(np.select([by_db < -FALLEN_DB, by_db > FALLEN_DB], [1, 2]).astype(np.int8))


def _levels_db(powers: Numbers) -> Numbers:
    groups = np.add.reduceat(powers, np.linspace(0, powers.shape[1], GROUPS, endpoint=False).astype(int), axis=1)
    return np.asarray(10 * np.log10(groups + np.mean(groups, axis=0) * 10 ** (-FLOOR_DB / 10)))


def _around(values: Numbers, window: int) -> Numbers:
    """The mean of so many steps about each step; fewer at the ends."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(len(values))
    start, end = np.maximum(at - window // 2, 0), np.minimum(at + window // 2 + 1, len(values))
    return np.asarray((total[end] - total[start]) / (end - start))
