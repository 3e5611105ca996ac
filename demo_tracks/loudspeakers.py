"""Three imaginary loudspeakers, and what a piece of music sounds like through each of them.

They stand for no product: each is a short chain of minimum-phase filters with a character that a real loudspeaker
may have. Sallow against bracken is meant to be plainly audible; sallow against sallow-late, a later production run
of the same loudspeaker, borderline. They touch no files and measure no loudness.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .arithmetic import decibels
from .biquads import Biquad, apply

LOWEST_RATE_HZ = 44_100
HIGHEST_RATE_HZ = 192_000


@dataclass(frozen=True)
class Loudspeaker:
    """An imaginary loudspeaker: its name, its character in a line, its level in dB and its filters."""

    name: str
    description: str
    level_db: float
    filters: tuple[Biquad, ...]


# The characters are invented. The levels leave room for the lifts, so that a rendering of a demo track never
# reaches full scale, and differ, as loudspeakers do in sensitivity.
_SALLOW = Loudspeaker(
    name="sallow",
    description="a mild, broad lift near 2 kHz and a bass that rolls off early",
    level_db=-3.0,
    filters=(
        Biquad("high-pass", 68.0, q=0.75),
        Biquad("peaking", 2000.0, gain_db=2.2, q=0.6),
    ),
)
_BRACKEN = Loudspeaker(
    name="bracken",
    description="a warm bump at 100 Hz, deep bass, and slightly less top octave",
    level_db=-4.2,
    filters=(
        Biquad("high-pass", 34.0, q=0.7),
        Biquad("peaking", 100.0, gain_db=3.2, q=0.9),
        Biquad("high-shelf", 9500.0, gain_db=-2.4, q=0.7),
    ),
)
_SALLOW_LATE = Loudspeaker(
    name="sallow-late",
    description="sallow from a later production run: a broad dip of 0.7 dB near 3 kHz, otherwise the same",
    level_db=-3.0,
    filters=(*_SALLOW.filters, Biquad("peaking", 3000.0, gain_db=-0.7, q=0.8)),
)

LOUDSPEAKERS: Mapping[str, Loudspeaker] = MappingProxyType({one.name: one for one in (_SALLOW, _BRACKEN, _SALLOW_LATE)})


def render(name: str, samples: NDArray[np.float64], rate_hz: int) -> NDArray[np.float64]:
    """Samples as the loudspeaker `name` plays them, float64, same shape, not limited to full scale.

    Parameters
    ----------
    name
        A key of `LOUDSPEAKERS`.
    samples
        Shape (frames, channels), full scale ±1.0; every channel goes through the same filters, from rest.
    rate_hz
        From 44 100 to 192 000.

    Raises
    ------
    ValueError
        For an unknown name, a rate out of range, samples that are not (frames, channels) or not finite.
    """
    loudspeaker = _find(name)
    _check_rate(rate_hz)
    played = np.asarray(samples, dtype=np.float64)
    if played.ndim != 2:
        raise ValueError(f"samples to render are (frames, channels); got shape {played.shape}")
    if not np.isfinite(played).all():
        raise ValueError("samples to render hold NaN or infinite values; mend the recording first")
    if played.size == 0:
        return played.copy()
    return np.asarray(apply(loudspeaker.filters, played * float(decibels(loudspeaker.level_db)), rate_hz))


def response_db(name: str, freqs_hz: ArrayLike, rate_hz: int) -> NDArray[np.float64]:
    """Magnitude of the loudspeaker's response in dB at `freqs_hz`, its level included, at a sampling rate.

    Exact for the filters that `render` uses: their polynomials are evaluated on the unit circle. At 0 Hz, where
    a high-pass passes nothing, it is minus infinity.

    Raises
    ------
    ValueError
        For an unknown name, a rate out of range, or a frequency outside 0 to half the rate.
    """
    loudspeaker = _find(name)
    _check_rate(rate_hz)
    frequencies = np.asarray(freqs_hz, dtype=np.float64)
    if not np.all((frequencies >= 0.0) & (frequencies <= rate_hz / 2)):
        raise ValueError(f"a response at {rate_hz} Hz exists from 0 to {rate_hz / 2:g} Hz only")
    total = np.full(frequencies.shape, loudspeaker.level_db)
    back = np.exp(-2j * np.pi * frequencies / rate_hz)
    for one in loudspeaker.filters:
        b, a = one.coefficients(rate_hz)
        ratio = np.abs((b[0] + back * (b[1] + back * b[2])) / (a[0] + back * (a[1] + back * a[2])))
        with np.errstate(divide="ignore"):
            total = total + 20.0 * np.log10(ratio)
    return total


def _find(name: str) -> Loudspeaker:
    """Loudspeaker of that name."""
    if name not in LOUDSPEAKERS:
        raise ValueError(f"there is no loudspeaker {name!r}; there are {', '.join(LOUDSPEAKERS)}")
    return LOUDSPEAKERS[name]


def _check_rate(rate_hz: int) -> None:
    """Nothing, for a rate the filters are made for."""
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise ValueError(f"the imaginary loudspeakers play {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz; got {rate_hz}")
