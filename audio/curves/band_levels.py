"""Whether the averages of a sweep agree in every third of an octave, not only in the middle of the band. Pure.

A door that was opened, somebody who stood in the way or a driver that grew warm change one part of the band, which the
markers around the sweeps need not share.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from . import gate, noise_floor
from .curve import Numbers
from .noise_floor import Silence
from .sweep import Sweep, whole_response

LOOKED_AT_S = 0.25  # of the response after its arrival
BEFORE_S = 0.005
WITHIN = 1.2  # from the sweep's ends, where its fades are
BANDS = np.arange(-20, 14)  # thirds of an octave, by tens of a decade from 1 kHz: 10 Hz to 20 kHz (IEC 61260-1)
NOMINAL = (10, 12.5, 16, 20, 25, 31.5, 40, 50, 63, 80)  # of each decade
DIFFERS_DB = 0.5  # our choice, as for the whole level
CLEAR_DB = 20.0  # above the noise; nearer to it a band says nothing
DEVIATIONS = 3.0  # what noise may do on top


def differing(
    made: Sweep, cuts: Sequence[Numbers], arrival: int, quiet: Silence, without: set[int]
) -> dict[int, tuple[str, float]]:
    """The averages that differ in a band from the others, by place: the worst band's nominal frequency, and dB.

    Against the median of all; of two each differs from the other, and nothing tells which is right.

    Parameters
    ----------
    cuts
        The recorded sweeps, laid on each other, shape (frames,) each.
    without
        Places that are left out already.
    """
    places = [place for place in range(len(cuts)) if place not in without]
    if len(places) < 2:
        return {}
    frames, before = (round(seconds * made.rate_hz) for seconds in (LOOKED_AT_S, BEFORE_S))
    shape = gate.shape(frames, before, "half-tukey")
    hz = gate.lines(made.rate_hz, len(shape))
    powers = [
        np.abs(np.fft.rfft(np.roll(whole_response(made, cuts[place]), before - arrival)[: len(shape)] * shape,
                           2 * (len(hz) - 1))) ** 2
        for place in places
    ]  # fmt: skip
    floor = noise_floor.of_response(quiet, made, 1, LOOKED_AT_S, "half-tukey")
    noise = np.interp(hz, floor.hz, 10 ** (floor.level_db / 10))
    worst: dict[int, tuple[str, float]] = {}
    for band in BANDS:
        centre = 1000 * 10 ** (band / 10)
        low, high = centre * 10**-0.05, centre * 10**0.05
        inside = (hz >= low) & (hz < high)
        if low < made.low_hz * WITHIN or high > made.high_hz / WITHIN or not inside.any():
            continue
        level = np.array([10 * np.log10(max(float(power[inside].mean()), 1e-30)) for power in powers])
        clear_db = float(level.min() - 10 * np.log10(max(float(noise[inside].mean()), 1e-30)))
        if clear_db < CLEAR_DB:
            continue
        least = allowed_db(clear_db)
        middle = float(np.median(level)) if len(places) > 2 else level[::-1]
        for place, apart in zip(places, level - middle, strict=True):
            if abs(apart) > max(least, abs(worst[place][1]) if place in worst else 0.0):
                worst[place] = (nominal(int(band)), float(apart))
    return worst


def allowed_db(clear_db: float) -> float:
    """How far two averages may lie apart in a band that stands so far above the noise, dB.

    Noise moves the difference of two levels by 8.69·10^(-c/20)/√n dB (RMS), c dB above it, in a band of n independent
    lines; against the median of four or eight by less. With one line, as the lowest bands have, at the least c, that is
    0.87 dB: beyond what is allowed here (2.8 dB) once in 600 bands, and with two lines or 5 dB more never.

    >>> round(allowed_db(20.0), 2), round(allowed_db(40.0), 2)
    (2.78, 0.76)
    """
    return float(DIFFERS_DB + 20 * np.log10(1 + DEVIATIONS * 10 ** (-clear_db / 20)))


def nominal(band: int) -> str:
    """The name of a band, in Hz, by tens of a decade from 1 kHz.

    >>> nominal(0), nominal(-12), nominal(11), nominal(-15)
    ('1000', '63', '12500', '31.5')
    """
    decade, tenth = divmod(band, 10)
    return f"{NOMINAL[tenth] * 10 ** (decade + 2):g}"
