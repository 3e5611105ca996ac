"""Tones that one of two recordings holds from end to end and the other has not, found under music. Pure.

Each channel is explained by the other recording's through a filter that stays (`filter_residual`). What is left over of
music comes and goes and has any phase; a tone that stays adds up, moment by moment, each counted by how little else is
left about it. Over 60 moments a tone so stands out by 18 dB more than it does in one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from .filter_residual import Explained, Signal, both_ways

RATE_HZ = 2400  # and above: what is needed of it
HIGHEST_HZ = 1000.0
ZEROS, KAISER_BETA = 10, 5.0
WINDOW_S = 0.5
FEWEST = 6  # windows
BESIDE = (4, 7)  # lines of a window to either side, which a steady tone does not reach
USUAL = 0.25  # of the moments hold less: none counts by more than these
NEAREST = 0.55  # of a line's width: a tone shows in the next lines too
APART_HZ = 0.5
FINE = 4  # steps in a line of a whole passage's transform
SURE = 30.0  # times what is left of it by chance, channels together
STEADY = 0.6  # of what is more than beside: a tone that swells, stops or comes with strokes leaves the rest
EXPLAINED = 0.5  # of what is heard: where a filter leaves more, the tone may be the filter's
OWN = 0.5  # of what the tone is in either: a note of both that a filter explains badly is none of one
Values = NDArray[np.float64]
Moments = NDArray[np.complex64]
Bands = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Line:
    """A tone that stays: its frequency, how far it stands out, and its mean square, channels together.

    `power` is that of what is left of the one that is heard, `power_in_source` that in the one that explains; `more`
    is by how much more it is heard than foretold, in standard errors: whose it is.
    """

    hz: float
    sure: float
    power: float
    power_in_source: float
    more: float


def lines(first: Clip, second: Clip, bands_hz: Bands) -> tuple[list[Line], list[Line]]:
    """The steady tones in what the first leaves unexplained of the second, and the second of the first; lowest first.

    The clips are in step, of one rate; `bands_hz` are where tones are asked for, from and to.
    """
    rate_hz = first.rate_hz / _by(first)
    ways = _ways(first, second)
    if not ways:
        return [], []
    forward, back = (_of([each[way] for each in ways], rate_hz, bands_hz) for way in (0, 1))
    return forward, back


def hides_db(first: Clip, second: Clip, at_hz: Sequence[float], stands_out: float) -> list[float]:
    """The level (dB re full scale) below which no tone stands out so far, at each frequency; none of clips too short.

    Of the two ways the better one counts.
    """
    rate_hz = first.rate_hz / _by(first)
    ways = _ways(first, second)
    both = [[_channel(each[way], rate_hz) for each in ways] for way in (0, 1)]
    lines_at = [round(hz * WINDOW_S) for hz in at_hz] if ways else []
    return [min(_faintest_db(channels, at, stands_out) for channels in both) for at in lines_at]


def _faintest_db(channels: Sequence[_Channel], at: int, stands_out: float) -> float:
    """The level of a tone that would just be found in a line."""
    least = []
    for each in channels:
        left, beside = each.left[:, at], each.beside[:, at]
        rest = np.square(np.abs(left)) / beside
        usual = max(1.0, float(rest.mean()))
        least.append(max(stands_out * usual, STEADY / (1 - STEADY) * left.size * (usual - 1)) / np.sum(1 / beside))
    return 10 * float(np.log10(max(least)))


def _by(clip: Clip) -> int:
    return max(clip.rate_hz // RATE_HZ, 1)


def _ways(first: Clip, second: Clip) -> list[tuple[Explained, Explained]]:
    """The low sound of each channel by that of the other clip, and that by it; none of clips that are too short."""
    count = min(first.frames, second.frames)
    if count < (FEWEST + 1) * WINDOW_S / 2 * first.rate_hz:
        return []
    by = _by(first)
    channels = zip(*(_low(clip, count, by) for clip in (first, second)), strict=False)
    return [both_ways(one, two, round(first.rate_hz / by)).explained() for one, two in channels]


def _low(clip: Clip, count: int, by: int) -> list[Signal]:
    return [thinned(channel.astype(np.float32), by) for channel in clip.samples[:count].T]


def thinned(samples: Signal, by: int) -> Signal:
    """Every so many-th sample, in place, of what lies below half the lower rate; beyond both ends there is silence.

    The low-pass is a sinc of 10 zeros to either side under a Kaiser window of beta 5, as is usual (common practice, no
    source). The samples of a step stand in a row, and what all taps make of them is one product of matrices: the signal
    library that has this too takes longer to load than a check of a passage.
    """
    reach = ZEROS * by
    taps = np.sinc(np.arange(-reach, reach + 1) / by) * np.kaiser(2 * reach + 1, KAISER_BETA)
    count = -(-samples.size // by)
    rows = np.zeros((count + 2 * ZEROS, by), dtype=np.float32)
    rows.reshape(-1)[reach : reach + samples.size] = samples
    steps = np.zeros((2 * ZEROS + 1, by), dtype=np.float32)
    steps.reshape(-1)[: taps.size] = taps / taps.sum()
    made = np.append(rows, np.zeros((1, by), dtype=np.float32), axis=0) @ steps.T
    return np.asarray(sum(made[step : step + count, step] for step in range(2 * ZEROS + 1)), dtype=np.float32)


@dataclass(frozen=True, eq=False)
class _Channel:
    """One channel's moments by lines: what is left, heard, foretold; and how much is about each of what is left."""

    left: Moments
    heard: Moments
    foretold: Moments
    source: Moments
    beside: Values


def _of(known: Sequence[Explained], rate_hz: float, bands_hz: Bands) -> list[Line]:
    channels = [_channel(each, rate_hz) for each in known]
    count = len(channels[0].left)
    size = FINE * (1 << (count - 1).bit_length())
    asked = np.flatnonzero(_asked(channels[0].left.shape[1], bands_hz))
    power = np.sum([_stands_out(each, asked, size) for each in channels], axis=0)  # (steps, lines)
    best = power.argmax(axis=0)
    found: list[Line] = []
    for place, at in enumerate(asked):
        sure = float(power[best[place], place])
        line = _line(channels, int(at), best[place] / size, sure, rate_hz) if sure > SURE else None
        if line is not None and (not found or line.hz - found[-1].hz > APART_HZ):
            found.append(line)
    return found


def _asked(count: int, bands_hz: Bands) -> NDArray[np.bool_]:
    """The lines of a window in which a tone of one of the bands may show."""
    at_hz = np.arange(count) / WINDOW_S
    asked = np.zeros(count, dtype=bool)
    for low_hz, high_hz in bands_hz:
        asked |= (at_hz > low_hz - NEAREST / WINDOW_S) & (at_hz < high_hz + NEAREST / WINDOW_S)
    return asked


def _channel(known: Explained, rate_hz: float) -> _Channel:
    heard, foretold, source = (_moments(each, rate_hz) for each in (known.heard, known.foretold, known.source))
    left = heard - foretold
    return _Channel(left, heard, foretold, source, _beside(left))


def _beside(moments: Moments) -> Values:
    """How much is about each line in each moment, and no less than usual."""
    size = np.square(np.abs(moments))
    around = [np.roll(size, sign * by, axis=1) for by in range(BESIDE[0], BESIDE[1] + 1) for sign in (-1, 1)]
    beside = np.mean(around, axis=0)
    return np.asarray(np.maximum(beside, np.quantile(beside, USUAL, axis=0)) + 1e-24)


def _moments(samples: NDArray[np.float32], rate_hz: float) -> Moments:
    """What each half overlapping window holds in each line, as the amplitude of a tone there (rms)."""
    from scipy.fft import rfft

    window = 2 * round(0.5 * WINDOW_S * rate_hz)
    shape = np.hanning(window + 1)[:-1]
    parts = np.lib.stride_tricks.sliding_window_view(samples, window)[:: window // 2]
    last = round(HIGHEST_HZ * WINDOW_S) + BESIDE[1]
    return np.asarray(rfft(parts * shape, axis=1)[:, :last] * (np.sqrt(2) / shape.sum()))


def _stands_out(channel: _Channel, asked: NDArray[np.int_], size: int) -> Values:
    """How far a steady tone stands out of what else is left, at each step of frequency in each line asked for."""
    from scipy.fft import fft

    left, beside = channel.left[:, asked], channel.beside[:, asked]
    weight = 1 / beside
    scale = beside.min(axis=0)
    turned = fft((left * (weight * scale)).astype(np.complex64), size, axis=0)
    total = (np.square(turned.real) + np.square(turned.imag)) / (weight.sum(axis=0) * np.square(scale))
    whole = np.sum(weight * np.square(np.abs(left)), axis=0)
    chance = np.sum(weight * beside, axis=0)
    rest = np.maximum(whole - total, 0.0)
    return np.asarray(np.where(total > STEADY * (whole - chance), total / np.maximum(1.0, rest / chance), 0.0))


def _line(channels: Sequence[_Channel], at: int, turn: float, sure: float, rate_hz: float) -> Line | None:
    """A tone in a line, that turns so far between two moments; None where it is a note of both."""
    window = 2 * round(0.5 * WINDOW_S * rate_hz)
    hop_s, step_hz = window / 2 / rate_hz, rate_hz / window
    near = at * step_hz
    hz = (turn + np.round((near * hop_s) - turn)) / hop_s
    if abs(hz - near) > NEAREST * step_hz:
        return None
    turns = np.exp(-2j * np.pi * turn * np.arange(len(channels[0].left)))
    off = (hz - near) / step_hz
    fall = float(np.sinc(off) / (1 - off**2))  # of a Hann window beside its middle
    left = heard = foretold = source = more = rest = size = 0.0
    for each in channels:
        weight = 1 / each.beside[:, at]
        parts = (each.left, each.heard, each.foretold, each.source)
        tones = [np.sum(weight * part[:, at] * turns) / weight.sum() for part in parts]
        sums = [float(abs(tone) ** 2) for tone in tones]
        rest += float(np.mean(np.square(np.abs(each.left[:, at] * turns - tones[0]))))
        size += float(np.mean(np.square(np.abs(each.heard[:, at]))))
        left, heard, foretold, source = (a + b for a, b in zip((left, heard, foretold, source), sums, strict=True))
        nearby = slice(at - BESIDE[1], at + BESIDE[1] + 1)
        weight = 1 / np.maximum(*(_beside(part[:, nearby])[:, BESIDE[1]] for part in parts[1:3]))
        sums = [float(abs(np.sum(weight * part[:, at] * turns)) ** 2 / weight.sum()) for part in parts[1:3]]
        more += sums[0] - sums[1]
    if left < OWN * max(heard, foretold) or rest > EXPLAINED * size:
        return None
    return Line(float(hz), sure, left / fall**2, source / fall**2, more)
