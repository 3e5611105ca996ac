"""Mains hum that one recording has and the other has not: steady lines at 50 or 60 Hz and their multiples. Pure.

A held note of the music is a line too, but in both recordings, however unlike the loudspeakers (`steady_lines`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..levels.weighting import a_weight_db
from . import steady_lines
from .findings import LIMITS, Finding, finding
from .steady_lines import Line, lines

MAINS_HZ, OFF = (50.0, 60.0), 0.01  # grids keep within 1 %; so do recorders' clocks
MULTIPLES = 16
FIRST = 2  # one of the first two is among the lines: the mains itself, or twice it behind a rectifier
BUZZ = 3  # lines, or two that stand out far, tell the mains by what they share: without its first two, as of a core
SURELY = 1000.0  # so far each of two lines must stand out that tell the mains by what they share; of clean pairs 230
TUNED_HZ = 0.05  # between a line and where the mains' multiple is by another: three times what chance does in 5 s
STRAY = 3.0  # times what stands out beside the multiples: in a long room, tones of the music do
ALONE = 100.0  # so far a line without any other must stand out
LOST_DB = 4.0  # by a tone between two lines and by chance: 3 dB and less in 14 pairs
TELLS = 10.0  # standard errors: whose it is
MOSTLY = 0.5  # of the energy of a stretch: what is more of it than hum is no hum alone
LONGEST_S = 2.0  # of a stretch is looked at, from its middle
BANDS_HZ = [(times * hz * (1 - OFF), times * hz * (1 + OFF)) for hz in MAINS_HZ for times in range(1, MULTIPLES + 1)]


@dataclass(frozen=True)
class Hum:
    """The mains' frequency (50 or 60 Hz), how many lines, and their level together (A-weighted, dB re full scale).

    `of_heard`: whose it is, None: unknown. `loudest_hz`: where the line that is loudest to the ear lies. `base_hz`: the
    mains' frequency as these lines have it.
    """

    mains_hz: float
    lines: int
    level_db: float
    of_heard: bool | None
    loudest_hz: float
    base_hz: float


def either(reference: Clip, other: Clip) -> list[Hum | None]:
    """The hum in what the reference leaves unexplained of the other, and the other of the reference."""
    return [hum_of(known) for known in lines(reference, other, BANDS_HZ)]


def told(passage: str, setup: str, ways: Sequence[Hum | None]) -> list[Finding]:
    """What is to be said of the hum in the other and in the reference: nothing within the limit."""
    named = (setup, "the reference"), ("the reference", setup)
    hums = [(found, names) for found, names in zip(ways, named, strict=True) if found is not None]
    if not hums:
        return []
    loudest, names = max(hums, key=lambda each: each[0].level_db)
    if loudest.level_db <= LIMITS["hum"].value:
        return []
    who = _owner(loudest, names)
    heard = [each for each in hums if each[0].level_db > LIMITS["hum"].value]
    if who is None:
        does = f"{setup} or the reference hums, unlike the other"
    elif any(_owner(*each) not in (who, None) for each in heard):
        does = f"{setup} and the reference both hum, but not alike"
    else:
        does = f"{who} hums, {'the reference' if who == setup else setup} does not, or less"
    what = f"{does}: {_where(loudest)}; find the ground loop or the supply, and record again"
    return [finding("hum", setup, passage, loudest.level_db, what)]


def is_most_of(samples: NDArray[np.float64], rate_hz: int, hums: Sequence[Hum | None]) -> bool:
    """Whether a stretch of one channel holds a hum and little else: silence, as far as the music goes."""
    spare = max(samples.size - round(LONGEST_S * rate_hz), 0) // 2
    by = max(rate_hz // steady_lines.RATE_HZ // 2, 1)  # sums of some frames, each: the hum's lines are low
    middle = samples[spare : samples.size - spare]
    low = middle[: middle.size // by * by].reshape(-1, by).mean(axis=1)
    low = low - low.mean()
    energy = float(np.square(middle - middle.mean()).sum())
    for found in (each for each in hums if each is not None):
        phase = 2 * np.pi * found.base_hz * by / rate_hz * np.outer(np.arange(low.size), np.arange(1, MULTIPLES + 1))
        tones = np.concatenate([np.cos(phase), np.sin(phase)], axis=1)
        if low.size <= 2 * tones.shape[1]:
            return False
        explained = tones @ np.linalg.lstsq(tones, low, rcond=None)[0]
        if by * float(np.square(explained).sum()) > MOSTLY * energy:
            return True
    return False


def _where(found: Hum) -> str:
    """The lines in words: one by its own frequency, which need not be the mains'."""
    if found.lines > 1:
        return (
            f"{found.lines} steady lines about {found.mains_hz:.0f} Hz and its multiples, "
            f"the loudest at {found.loudest_hz:.0f} Hz"
        )
    times = round(found.loudest_hz / found.mains_hz)
    of_mains = f", {times} times the mains' {found.mains_hz:.0f} Hz" if times > 1 else ""
    return f"1 steady line at {found.loudest_hz:.0f} Hz{of_mains}"


def _owner(found: Hum, names: tuple[str, str]) -> str | None:
    """Which of the two has a hum: the one that is heard, or the one that explains it."""
    return None if found.of_heard is None else names[0 if found.of_heard else 1]


def hides_db(reference: Clip, other: Clip) -> float | None:
    """The level of a tone of twice the mains (A-weighted, dB re full scale) below which none is surely found."""
    at_hz = [2 * mains_hz for mains_hz in MAINS_HZ]
    hidden_db = steady_lines.hides_db(reference, other, at_hz, ALONE)
    weighted = zip(hidden_db, a_weight_db(np.array(at_hz)).tolist(), strict=False)
    return max((level_db + LOST_DB + weight_db for level_db, weight_db in weighted), default=None)


def hum_of(known: Sequence[Line]) -> Hum | None:
    """The hum of most lines among these; of as many, the loudest."""
    hums = [
        _of_one(
            ours,
            max((line.sure for line in known if line not in multiples.values()), default=0.0),
            mains_hz,
            anchor.hz / times,
        )
        for anchor in known
        for mains_hz in MAINS_HZ
        if 1 <= (times := round(anchor.hz / mains_hz)) <= MULTIPLES and abs(anchor.hz / times / mains_hz - 1) <= OFF
        for multiples in [_multiples(known, anchor.hz / times, times)]
        for ours in _by_recording(multiples)
    ]
    return max((each for each in hums if each is not None), key=lambda each: (each.lines, each.level_db), default=None)


def _multiples(known: Sequence[Line], base_hz: float, known_by: int) -> dict[int, Line]:
    """The lines at multiples of a base that is known by the one of that order."""
    ours = {}
    for line in known:
        times = round(line.hz / base_hz)
        if 1 <= times <= MULTIPLES and abs(line.hz - times * base_hz) < TUNED_HZ * max(1.0, times / known_by):
            ours[times] = line
    return ours


def _by_recording(multiples: dict[int, Line]) -> list[dict[int, Line]]:
    """The lines that may be of one recording's hum: a line that is surely of the other is a hum of its own, or a note.

    Of two rooms either leaves other notes of the music over; two of these, one of each, once made a hum.
    """
    heard = {times: line for times, line in multiples.items() if line.more > -TELLS}
    source = {times: line for times, line in multiples.items() if line.more < TELLS}
    return [each for each in (heard, source) if each] if heard != source else [multiples]


def _of_one(ours: dict[int, Line], elsewhere: float, mains_hz: float, base_hz: float) -> Hum | None:
    """The hum that lines at multiples of the mains are, beside lines elsewhere that stand out so far."""
    sure = max(line.sure for line in ours.values())
    if sure < STRAY * elsewhere or (sure < ALONE and (len(ours) == 1 or min(ours) > FIRST)):
        return None
    enough = len(ours) >= BUZZ or (len(ours) > 1 and min(line.sure for line in ours.values()) > SURELY)
    if min(ours) > FIRST and (not enough or np.gcd.reduce(list(ours)) > 1):
        return None  # a note and its harmonics may be at every third of the mains' multiples
    more = sum(line.more for line in ours.values())
    of_heard = None if abs(more) < TELLS else bool(more > 0)
    powers = [line.power_in_source if of_heard is False else line.power for line in ours.values()]
    weights = 10 ** (a_weight_db(np.array([line.hz for line in ours.values()])) / 10)
    heard = weights * powers
    loudest_hz = [line.hz for line in ours.values()][int(np.argmax(heard))]
    return Hum(mains_hz, len(ours), 10 * float(np.log10(np.sum(heard))), of_heard, loudest_hz, base_hz)
