"""Mains hum that one recording has and the other has not: steady lines at 50 or 60 Hz and their multiples. Pure.

A line is looked for in the moments in which there is least around it, so that hum is found under bass as well as in
pauses. A held note of the music is a line too, but in both recordings, however unlike the loudspeakers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..levels.weighting import a_weight_db
from .findings import LIMITS, Finding, finding

WINDOW_S = 0.5
FEWEST = 6  # windows
MAINS_HZ, OFF = (50.0, 60.0), 0.01  # grids keep within 1 %; so do recorders' clocks
MULTIPLES = 16
FIRST = 2  # one of the first two is always among the lines: the mains itself, or twice it behind a rectifier
LEAST = 0.25  # of the windows hold no more than what is looked at
BESIDE = (4, 7)  # lines of the transform to either side, which a steady tone in a Hann window does not reach
STANDS_OUT_DB, HELD_DB = 10.0, 6.0  # above what is beside it; between the windows' twentieth and their middle
LINE_DB = 4.0  # what stands out by less in the other is no line there
LOUDER_DB = 20.0  # above a line of the other it is hum all the same


@dataclass(frozen=True)
class Hum:
    """The mains' frequency (50 or 60 Hz), how many lines, and their level together (A-weighted, dB re full scale)."""

    mains_hz: float
    lines: int
    level_db: float


def hum(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """Mains hum in one of two recordings, of one rate, that are brought into step."""
    one, two = _powers(reference), _powers(other)
    if len(one) < FEWEST or len(two) < FEWEST:
        return []
    found = []
    for who, whom, there, elsewhere in ((setup, "the reference", two, one), ("the reference", setup, one, two)):
        hums = hum_beyond(there, elsewhere)
        if hums is not None and hums.level_db > LIMITS["hum"].value:
            what = (
                f"{who} hums, unlike {whom}: {hums.lines} steady line{'s' if hums.lines > 1 else ''} about "
                f"{hums.mains_hz:.0f} Hz and its multiples; find the ground loop or the supply, and record again"
            )
            found.append(finding("hum", setup, passage, hums.level_db, what))
    return found


def hum_beyond(there: NDArray[np.float64], elsewhere: NDArray[np.float64]) -> Hum | None:
    """The loudest hum in one's windows that the other has not; both (windows, lines 2 Hz apart)."""
    step_hz = 1 / WINDOW_S
    lines, beside, held = _least(there)
    known, beside_known, _ = _least(elsewhere)
    stands = (lines > beside * 10 ** (STANDS_OUT_DB / 10)) & held
    stands &= lines >= np.maximum(np.roll(lines, 1), np.roll(lines, -1))
    near = np.maximum(known, np.maximum(np.roll(known, 1), np.roll(known, -1)))
    stands &= (near < beside_known * 10 ** (LINE_DB / 10)) | (near < lines * 10 ** (-LOUDER_DB / 10))
    best: Hum | None = None
    for mains_hz, off in ((base, off) for base in MAINS_HZ for off in np.linspace(-OFF, OFF, 9)):
        multiples = mains_hz * (1 + off) * np.arange(1, MULTIPLES + 1)
        multiples = multiples[multiples < step_hz * (len(lines) - BESIDE[1])]
        places = np.rint(multiples / step_hz).astype(int)
        sharp = np.array([next((p for p in (at, at - 1, at + 1) if stands[p]), 0) for at in places])
        if not sharp[:FIRST].any():
            continue
        power = np.where(sharp > 0, lines[sharp], 0.0) * 10 ** (a_weight_db(multiples) / 10)
        level_db = 10 * float(np.log10(power.sum()))
        if best is None or level_db > best.level_db:
            best = Hum(mains_hz, int(np.count_nonzero(sharp)), level_db)
    return best


def _powers(clip: Clip) -> NDArray[np.float64]:
    """What each half overlapping window holds in each line, as the mean square of a tone there, channels together."""
    window = 2 * round(0.5 * WINDOW_S * clip.rate_hz)
    count = max(0, (clip.frames - window) // (window // 2) + 1)
    highest = int(MAINS_HZ[-1] * (1 + OFF) * MULTIPLES * WINDOW_S) + BESIDE[1] + 2
    from scipy.fft import rfft

    shape = np.hanning(window).astype(np.float32)
    samples = clip.samples.astype(np.float32)
    total = np.zeros((count, highest))
    for at in range(count):
        start = at * (window // 2)
        found = rfft(samples[start : start + window] * shape[:, None], axis=0)[:highest]
        total[at] = np.sum(np.square(np.abs(found)), axis=1)
    return total * (2 / np.sum(shape) ** 2)


def _least(powers: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """In each line: the power of its quieter windows, of what is beside it, and whether it is held throughout."""
    low, least, middle = np.quantile(powers, (0.05, LEAST, 0.5), axis=0)
    around = [np.roll(least, sign * by) for by in range(BESIDE[0], BESIDE[1] + 1) for sign in (-1, 1)]
    return least, np.mean(around, axis=0) + 1e-20, middle < low * 10 ** (HELD_DB / 10)
