"""A steady tone that one of two recordings holds and the other has not, wherever it lies. Pure.

It is a line of the spectrum that never goes away: in the moments that hold least there, it still stands out of its
neighbours, at one level and one frequency, and in the other recording nothing does. A held note of the music is such a
line too. It is in both recordings, or what it belongs to is: a loudspeaker makes multiples, sums and differences of
held notes, and a room or an equaliser leaves out one partial of some. So where both hold notes to the end, a tone is
told only if it is louder than these, and no part of one. A room rings on after a note; where the music is a loop, that
is as loud in every turn, so a tone must be clear in moments that are not just after a louder one. What the mains make
is `hum`'s, where that is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..levels.weighting import a_weight_db
from .findings import LIMITS, Finding, finding
from .hum import Hum

WINDOW_S = 0.5
LOWEST_HZ, HIGHEST_HZ = 40.0, 20_000.0  # above, nobody hears it
FEWEST, MOST = 8, 120  # windows; of a longer clip so many, evenly spread
HELD = 0.1  # of the moments may hold less
BESIDE = (4, 12)  # lines to either side, which a tone does not reach
STANDS_OUT = 10**1.8  # times its neighbours, in the moments that hold least
HIDDEN = 10**0.6  # times its neighbours at most in the other: more may be the same note
APART = 10**2.6  # times what the other holds there: a notch of 20 dB, and a room's dip, take less from a note
FAR_APART = 10**4.5  # times: neither of them takes that from a note, whatever the other's music does there
CLEAR = 10.0  # times what is beside it at the moment
CLEARER, ENOUGH = 100.0, 0.2  # such moments alone, if there are as many
SPREAD_DB, SPREAD_HZ = 3.0, 0.6  # of such moments, between the levels and frequencies that 15 % and 85 % stay below
FALLEN, FRESH = 10.0, 0.25  # from the moment before, to a clear one: a note that a room rings on after; and the rest
NEARBY = 0.05  # of a tone's frequency: where the gain between the recordings is read
NEARBY_LINES = 40
NOTE, NOTE_DB = 4.0, 6.0  # times its neighbours, and so steady where it is never clear: a note that both hold
OF_NOTES = 1.0  # of a tone: a held note as loud may make it, or go with it
PART = 1e-3  # of a tone: a held note of which it may be a multiple or a part
PARTIALS = 30  # of a held note
TUNED_HZ, TUNED_EACH_HZ = 0.3, 0.05  # and so much more for each multiple
NOTCH_HZ = 20.0  # about a tone that is left out
MAINS_HZ = 0.01  # a multiple of the mains' frequency: how far it may be off
NAMED = 3
Values = NDArray[np.float32]


@dataclass(frozen=True)
class Tone:
    """A steady tone of one recording: its frequency and its level (A-weighted, dB re full scale, channels together)."""

    hz: float
    level_db: float


@dataclass(frozen=True, eq=False)
class _Seen:
    """Mean squares of a recording by moments and lines, channels together; by lines the least of them and the mean.

    `beside` is what the neighbours hold of the least.
    """

    power: Values
    least: Values
    mean: Values
    beside: Values


def either(reference: Clip, other: Clip) -> tuple[list[Tone], list[Tone]]:
    """The tones of the other alone and of the reference alone, the loudest first; of clips in step, of one rate."""
    count = min(reference.frames, other.frames)
    if count < (FEWEST + 1) * WINDOW_S / 2 * reference.rate_hz:
        return [], []
    one, two = (_seen(each, count) for each in (reference, other))
    return _tones(two, one), _tones(one, two)


def told(
    passage: str, setup: str, ways: tuple[Sequence[Tone], Sequence[Tone]], hums: Sequence[Hum | None]
) -> list[Finding]:
    """What is to be said of the tones in the other and in the reference, beside the hum that is told of them."""
    limit_db = LIMITS["tone"].value
    known = [each for each in hums if each is not None and each.level_db > LIMITS["hum"].value]
    heard = [
        [each for each in way if each.level_db > limit_db and not any(_of_mains(each.hz, hum) for hum in known)]
        for way in ways
    ]
    names = (setup, "the reference"), ("the reference", setup)
    there = [(way, who) for way, who in zip(heard, names, strict=True) if way]
    if not there:
        return []
    way, (who, whom) = max(there, key=lambda each: each[0][0].level_db)
    does = f"{who} holds {_named(way)}, {whom} does not"
    if len(there) > 1:
        does += f" (but holds {_named(next(each for each, _ in there if each is not way))})"
    what = f"{does}: a supply, a screen, a data line? find what makes it, and record again"
    return [finding("tone", setup, passage, way[0].level_db, what)]


def without(clips: tuple[Clip, Clip], ways: tuple[Sequence[Tone], Sequence[Tone]]) -> tuple[Clip, Clip]:
    """Both clips with next to nothing at the tones of either: what else is measured of them is not of these."""
    at_hz = [each.hz for way in ways for each in way]
    one, two = (_notched(clip, at_hz) for clip in clips)
    return one, two


def _notched(clip: Clip, at_hz: Sequence[float]) -> Clip:
    from scipy.signal import filtfilt, iirnotch

    samples = clip.samples
    for hz in at_hz:
        samples = filtfilt(*iirnotch(hz, hz / NOTCH_HZ, clip.rate_hz), samples, axis=0)
    return Clip(samples, clip.rate_hz, clip.channel_mask) if at_hz else clip


def _named(tones: Sequence[Tone]) -> str:
    """The tones in words, the loudest first."""
    at = [f"{each.hz:.0f} Hz" for each in tones[:NAMED]]
    if len(at) == 1:
        return f"a steady tone at {at[0]}"
    more = f" and {len(tones) - NAMED} more" if len(tones) > NAMED else ""
    return f"steady tones at {', '.join(at[:-1])} and {at[-1]}{more}"


def _of_mains(hz: float, hum: Hum) -> bool:
    times = max(round(hz / hum.base_hz), 1)
    return abs(hz - times * hum.base_hz) < min(TUNED_HZ + MAINS_HZ * times, 0.1 * hum.base_hz)


def _seen(clip: Clip, count: int) -> _Seen:
    from scipy.fft import rfft

    window = 2 * round(0.5 * WINDOW_S * clip.rate_hz)
    lines = min(round(HIGHEST_HZ * WINDOW_S), round(0.45 * window)) + BESIDE[1]
    starts = np.arange(0, count - window + 1, window // 2)
    if starts.size > MOST:
        starts = starts[np.linspace(0, starts.size - 1, MOST).astype(int)]
    shape = np.blackman(window + 1)[:-1].astype(np.float32)
    power = np.zeros((starts.size, lines), dtype=np.float32)
    scale = np.float32(2 / np.square(shape.sum(dtype=np.float64)))
    for channel in clip.samples.T:
        for place, start in enumerate(starts):
            spectrum = rfft(channel[start : start + window].astype(np.float32) * shape)[:lines]
            power[place] += scale * (np.square(spectrum.real) + np.square(spectrum.imag))
    at = int(HELD * starts.size)
    least = np.partition(power, at, axis=0)[at] + np.float32(1e-20)
    return _Seen(power, least, power.mean(axis=0) + np.float32(1e-20), _beside(least))


def _beside(values: Values) -> Values:
    """The median of the lines beside each."""
    padded = np.pad(values, BESIDE[1], mode="edge")
    around = [
        padded[BESIDE[1] + sign * by :][: values.size] for by in range(BESIDE[0], BESIDE[1] + 1) for sign in (-1, 1)
    ]
    return np.asarray(np.median(around, axis=0))


def _tones(own: _Seen, others: _Seen) -> list[Tone]:
    """The tones that one recording holds and the other has not, the loudest first."""
    least = own.least
    first, last = round(LOWEST_HZ * WINDOW_S), least.size - BESIDE[1]
    middle = slice(first, last)
    peaks = (least[middle] >= least[first - 1 : last - 1]) & (least[middle] > least[first + 1 : last + 1])
    places = first + np.flatnonzero(peaks & (least[middle] > STANDS_OUT * own.beside[middle]))
    alone = [int(at) for at in places if _is_missing(own, others, int(at))]
    if not alone:
        return []
    steady = [tone for at in alone if not _rings_on(own, at) and (tone := _steady(own, at)) is not None]
    notes = _notes(own, others, PART * min((power for _, power in steady), default=np.inf))
    found = []
    for hz, power in (tone for tone in steady if not _belongs(tone, notes)):
        found.append(Tone(hz, 10 * float(np.log10(power)) + float(a_weight_db(np.array([hz]))[0])))
    return sorted(found, key=lambda each: -each.level_db)


def _is_missing(own: _Seen, others: _Seen, at: int) -> bool:
    """Whether the other has nothing of a line that it would show if it were sound of both."""
    near = slice(at - 1, at + 2)
    by = max(round(NEARBY * at), NEARBY_LINES)
    sides = slice(max(at - by, 1), at), slice(at + 1, at + by + 1)  # apart: it may be near the end of a band
    gain = max(1.0, *(float(np.median(own.mean[side] / others.mean[side])) for side in sides))
    less = own.least[at] / (gain * others.least[near].max())
    if not APART < less < FAR_APART:
        return bool(less >= FAR_APART)
    beside = slice(max(at - 2 * BESIDE[1], 1), at + 2 * BESIDE[1] + 1)
    return bool(
        others.least[near].max() < HIDDEN * others.beside[at]
        and others.mean[near].max() < HIDDEN * np.median(others.mean[beside])
    )


def _steady(own: _Seen, at: int, clear_by: float = CLEAR, spread_db: float = SPREAD_DB) -> tuple[float, float] | None:
    """The frequency and mean square of a line, None where it moves in the moments in which it is clear of the rest."""
    clear, clearly = _clear(own, at, clear_by)
    if clear.sum() < max(FEWEST // 2, HELD * clear.size):
        return None
    spread_db = min(spread_db, SPREAD_DB) if clearly else spread_db
    left, peak, right = (np.log(own.power[clear, at + by] + 1e-20) for by in (-1, 0, 1))
    off = np.clip(0.5 * (left - right) / np.minimum(left - 2 * peak + right, -1e-3), -1, 1)
    level_db = 10 / np.log(10) * (peak - 0.25 * (left - right) * off)
    spreads = [float(np.diff(np.quantile(each, (0.15, 0.85)))[0]) for each in (level_db, off / WINDOW_S)]
    if spreads[0] > spread_db or spreads[1] > SPREAD_HZ * spread_db / SPREAD_DB:
        return None
    return (at + float(np.median(off))) / WINDOW_S, float(10 ** (np.median(level_db) / 10))


def _clear(own: _Seen, at: int, clear_by: float) -> tuple[NDArray[np.bool_], bool]:
    """The moments by which a line is judged, those in which it is clear of the rest; and whether it is far clear."""
    sides = own.power[:, [at + sign * by for by in range(BESIDE[0], BESIDE[1] + 1) for sign in (-1, 1)]].mean(axis=1)
    there = own.power[:, at] > 0.5 * own.least[at]
    clear, clearer = (there & (own.power[:, at] > by * sides) for by in (clear_by, CLEARER))
    clearly = bool(clearer.sum() > max(FEWEST // 2, ENOUGH * clear.size))
    return (clearer if clearly else clear), clearly


def _rings_on(own: _Seen, at: int) -> bool:
    """Whether a line is clear in little but moments before which it was far louder: what a room leaves of a note."""
    clear, _ = _clear(own, at, CLEAR)
    fresh = clear[1:] & (own.power[:-1, at] < FALLEN * own.power[1:, at])
    return bool(fresh.sum() < FRESH * clear.sum())


def _notes(own: _Seen, others: _Seen, faintest: float) -> list[tuple[float, float]]:
    """The notes that both hold to the end: frequency, and mean square in the one that holds more of it."""
    least = others.least
    inner = least[BESIDE[1] : -BESIDE[1]]
    peaks = (inner >= least[BESIDE[1] - 1 : -BESIDE[1] - 1]) & (inner > least[BESIDE[1] + 1 : 1 - BESIDE[1]])
    peaks &= inner > NOTE * others.beside[BESIDE[1] : -BESIDE[1]]
    notes = []
    for at in (BESIDE[1] + np.flatnonzero(peaks)).tolist():
        size = float(max(least[at], own.least[at]))
        if size <= faintest or _is_missing(others, own, at):  # not of the music: a tone of the other's
            continue
        known = _steady(own, at, NOTE, NOTE_DB) or _steady(others, at, NOTE, NOTE_DB)
        if known:
            notes.append((known[0], size))
    return notes


def _belongs(tone: tuple[float, float], notes: Sequence[tuple[float, float]]) -> bool:
    """Whether a tone may be made of held notes, or be one: such are about as loud as it, or it is a part of one."""
    hz, power = tone
    return any(
        size > OF_NOTES * power or (size > PART * power and (_is_multiple(note_hz, hz) or _is_multiple(hz, note_hz)))
        for note_hz, size in notes
    )


def _is_multiple(high_hz: float, low_hz: float) -> bool:
    times = round(high_hz / low_hz)
    return 1 <= times <= PARTIALS and abs(high_hz - times * low_hz) < TUNED_HZ + TUNED_EACH_HZ * times
