"""Whether the harmonics of a sweep look like a chain that is driven too far, softly. Pure."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from .curve import Curve, Numbers, log_grid
from .noise_floor import CLEAR_DB
from .smooth import smoothed
from .sweep import Deconvolved

ODD = (3, 5)
SUSPECT_DB = -40.0  # 1 % of an odd harmonic where the recording is loudest: no electronics and few drivers do that
LOUD_WITHIN_DB = 6.0
LOOKED_AT_HZ = (200.0, 5000.0)  # below, a loudspeaker's own cone travel makes odd harmonics
LEAST_OCTAVES = 1 / 3
COMPARED_FRACTION = 12.0  # of an octave: a harmonic and its floor; single lines of noise reach far up


def suspected(result: Deconvolved, harmonics: Mapping[int, tuple[Curve, Numbers]]) -> list[str]:
    """What is to be said of odd harmonics where the recording is loudest: nothing, or one sentence.

    Parameters
    ----------
    harmonics
        By order, each with its own floor in the same dB (`sweep.distortion`): only what stands clear of it counts.
    """
    size = 1 << int(np.ceil(np.log2(result.rate_hz)))
    hz = np.fft.rfftfreq(size, 1 / result.rate_hz)[1:].astype(float)
    level = 20 * np.log10(np.maximum(np.abs(np.fft.rfft(result.impulse[:size], size))[1:], 1e-12))
    grid = log_grid(*LOOKED_AT_HZ, 24)
    heard = smoothed(Curve(hz, level), 3).at(grid)
    worst: tuple[float, int, float] | None = None
    for order in ODD:
        if order not in harmonics:
            continue
        curve, floor_db = harmonics[order]
        inside = (grid >= curve.band[0]) & (grid <= curve.band[1])
        if not inside.any():
            continue
        loud = inside & (heard >= np.max(heard[inside]) - LOUD_WITHIN_DB)
        there = np.nan_to_num(smoothed(curve, COMPARED_FRACTION).at(grid), nan=-300.0)
        floor = np.nan_to_num(smoothed(Curve(curve.hz, floor_db), COMPARED_FRACTION).at(grid))
        much = loud & (there >= SUSPECT_DB) & (there >= floor + CLEAR_DB)
        if np.sum(much) >= LEAST_OCTAVES * 24:
            at = int(np.argmax(np.where(much, there, -300.0)))
            found = (float(there[at]), order, float(grid[at]))
            worst = max(worst, found) if worst else found
    if worst is None:
        return []
    db, order, at_hz = worst
    return [
        f"harmonic {order} reaches {100 * 10 ** (db / 20):.1f} % at {at_hz:.0f} Hz, where the recording is loudest: "
        "something may be clipping softly; sweep 6 dB lower, and if that share falls it was"
    ]
