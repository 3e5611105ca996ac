"""How much steady noise one recording has, by bands, from what no filter makes it of the other. Pure.

What a filter leaves over of music (of a room longer than it, of what distorts) moves with the music. What is left over
in the moments with least music, beyond what the louder moments let expect there, is noise if it stays the same.

Whose noise it is, is told by powers: what is left over is as much more than the filter foretells as it is noise of the
recording that is heard, and as much less as it is noise of the one that foretells.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .filter_residual import Explained, Lines
from .filter_strength import Spare
from .foretold_power import Powers

WINDOW_FRAMES_S = 2048 / 48_000
QUIETEST = 0.1  # of the moments
FEWEST = 8
AROUND_S = 0.34  # as far as the filter smears, before and after
DECAY_DB_S = 60.0  # a room of a second
RISES_DB = (10.0, 20.0)  # above the quietest moments: where music shows how much is left over of it
MOST_LEFT = 2.0  # times as much as there may be left over of fainter music
LEAST_SHARE = 0.5  # of what is left in the quietest moments
FARTHEST = 0.8  # of the louder moments' music: where it moves less, nothing can be told
STEADY_DB = 1.5  # more than chance makes of noise, between the levels that 15 % and 85 % stay below
PAUSES = 0.03  # of the fainter half of moments: noise does not pause so long, what is made of held notes may
LOUDER_LEAST = 0.75  # of what is left in the quietest moments: noise is in the louder ones as well
DRY_LEAVES = 1e-3  # of the music, at most, where a filter explains all of it: no room, no gain that moves
ALIKE = 0.5  # of what is heard: music that a gain moves, no noise that is alike by chance
SURE = 2.5  # standard errors
SPREAD = 1.5  # lines of a Hann window that are one, and moments half overlapping
Values = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Courses:
    """Mean squares (moments, bands), channels together: what is heard, what is foretold of it, and what is left.

    What is foretold may be more, by what is spare at least and at most (see `filter_strength`).
    """

    heard: Powers
    foretold: Powers
    left: Powers
    spare_least: Powers
    spare_most: Powers
    lines: Values
    hop_s: float


@dataclass(frozen=True, eq=False)
class Steady:
    """Of each band: the steady noise in what is left, as a mean square, 0 where there is none; what is left at most.

    `more` is by how much what is heard exceeds what is foretold, with its standard error. `untold` is what is left
    where the music moves too little to tell noise from what a room leaves of it.
    """

    noise: Values
    most: Values
    heard: Values
    more: Values
    error: Values
    untold: Values


def courses(known: Sequence[Explained], spare: Sequence[Spare], rate_hz: int, edges_hz: Values) -> Courses:
    """The powers of one recording's channels, each as the other's explains it, by moments and bands.

    A gain that moves makes no noise: in moments and bands that are alike, what is left is what no gain explains.
    """
    window = 2 * round(0.5 * WINDOW_FRAMES_S * rate_hz)
    places = np.searchsorted(np.fft.rfftfreq(window, 1 / rate_hz), edges_hz)
    span, starts = slice(int(places[0]), int(places[-1])), places[:-1] - places[0]
    lines = np.diff(places) / SPREAD
    parts = []
    for each, beyond in zip(known, spare, strict=True):
        waves = (each.heard, each.foretold, beyond.least, beyond.most)
        heard, foretold, *spares = (_lines(part, window)[:, span] for part in waves)
        power, own, least, most = (
            np.add.reduceat(np.square(x.real) + np.square(x.imag), starts, axis=1) for x in (heard, foretold, *spares)
        )
        shared = np.add.reduceat(heard * foretold.conj(), starts, axis=1)
        met = (np.square(shared.real) + np.square(shared.imag)) / np.maximum(own, 1e-30)
        left = np.where(met > ALIKE * power, (power - met) / (1 - 1 / lines), power + own - 2 * shared.real)
        parts.append(np.stack([power, own, np.maximum(left, 0.0), least, most]))
    scale = 2 / (np.sum(np.square(np.hanning(window))) * window)
    heard, foretold, left, least, most = np.sum(parts, axis=0, dtype=np.float64) * scale
    return Courses(heard, foretold, left, least, most, lines, 0.5 * window / rate_hz)


def steady(of: Courses, *, dry: bool = False) -> Steady:
    """The steady noise in each band.

    `dry` says that a filter explains all the music, so that next to nothing of it is left over, however little it
    moves.
    """
    count = of.left.shape[1]
    out = np.zeros((6, count))
    for band in range(count):
        out[:, band] = _in_band(of, band, dry)
    return Steady(*out)


def _in_band(of: Courses, band: int, dry: bool) -> tuple[float, float, float, float, float, float]:
    heard, foretold, left = (each[:, band] for each in (of.heard, of.foretold, of.left))
    music = _lasting(foretold, of.hop_s)
    order = np.argsort(music, kind="stable")
    quiet = order[: max(FEWEST, round(QUIETEST * left.size))]
    there, level = float(left[quiet].mean()), float(music[quiet].mean())
    louder = [order[left.size // 2 :]]
    first, last = np.searchsorted(music[order], [level * 10 ** (step_db / 10) for step_db in RISES_DB])
    if last - first >= FEWEST:
        louder.append(order[first:last])
    noise = min(_beyond_music(there, level, float(left[at].mean()), float(music[at].mean())) for at in louder)
    untold = 0.0 if dry or any(_moves(level, float(music[at].mean())) for at in louder) else there
    if dry:
        noise = max(noise, there - DRY_LEAVES * level)
    half = order[: left.size // 2]
    low, high = np.quantile(left[quiet], (0.15, 0.85))
    chance_db = 2.08 * 4.34 / np.sqrt(of.lines[band])
    wavers = 10 ** ((STEADY_DB + chance_db) / 10)
    noise = min(noise, float(np.quantile(left[half], PAUSES)) * wavers)
    if high > low * wavers or noise < LEAST_SHARE * there:
        noise = 0.0
    weight = 1 / (music[half] + there + 1e-20)
    weight /= weight.sum()
    of_music = (there - noise) / max(level, 1e-20) * float(weight @ music[half])  # in what is heard alone
    apart = (heard - foretold)[half]
    mean = float(weight @ apart)
    chance = float(np.sqrt(SPREAD * np.sum(np.square(weight * (apart - mean)))))
    most = mean - float(weight @ of.spare_least[half, band])
    least = mean - float(weight @ of.spare_most[half, band]) - of_music
    # a room leaves more over of louder music
    weak = min(max(float(left[at].mean()) / max(float(music[at].mean()), 1e-20) for at in louder), 1.0)
    off = max((most - least) / 2, weak * float(weight @ music[half]))
    more, error = (least + most) / 2, float(np.hypot(chance, off / SURE))
    return noise, there, float(heard[quiet].mean()), more, error, untold


def _beyond_music(there: float, music: float, there_louder: float, music_louder: float) -> float:
    """The noise in both, if as much as `MOST_LEFT` times the share of the louder music is left of the fainter one."""
    share = MOST_LEFT * music / max(music_louder, 1e-20)
    if not _moves(music, music_louder) or there_louder < LOUDER_LEAST * there:
        return 0.0
    return min((there - share * there_louder) / (1 - share), there)


def _moves(music: float, music_louder: float) -> bool:
    """Whether the louder music is so much louder that what is left of it tells what is left of the fainter one."""
    return MOST_LEFT * music < FARTHEST * music_louder


def _lasting(power: Values, hop_s: float) -> Values:
    """The music's power in each moment with what a filter smears of it and what a room keeps of it."""
    reach = round(AROUND_S / hop_s)
    sums = np.concatenate([[0.0], np.cumsum(power)])
    at = np.arange(power.size)
    ends, begins = np.minimum(at + reach + 1, power.size), np.maximum(at - reach, 0)
    level = 0.5 * (power + (sums[ends] - sums[begins]) / (ends - begins))
    fall_db = DECAY_DB_S * hop_s * at
    return np.asarray(10 ** ((np.maximum.accumulate(10 * np.log10(level + 1e-20) + fall_db) - fall_db) / 10))


def _lines(samples: NDArray[np.float32], window: int) -> Lines:
    from scipy.fft import rfft

    shape = np.hanning(window).astype(np.float32)
    return np.asarray(rfft(np.lib.stride_tricks.sliding_window_view(samples, window)[:: window // 2] * shape, axis=1))
