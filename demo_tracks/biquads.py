"""Second-order filters from frequency, gain and Q. It filters arrays; it knows no loudspeaker and no tune.

Source of the formulas: R. Bristow-Johnson, "Cookbook formulae for audio equalizer biquad filter coefficients", a
W3C Working Group Note since 2021 ("Audio EQ Cookbook"). Written from memory of that note; the tests check the
results against the analogue prototypes it starts from.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .arithmetic import cosine, decibels, sine

Kind = Literal["peaking", "low-shelf", "high-shelf", "high-pass", "low-pass"]
Coefficients = NDArray[np.float64]


@dataclass(frozen=True)
class Biquad:
    """A second-order filter: its kind, frequency in Hz, gain in dB (0 where it has none) and Q."""

    kind: Kind
    frequency_hz: float
    gain_db: float = 0.0
    q: float = 0.7071067811865476

    def coefficients(self, rate_hz: float) -> tuple[Coefficients, Coefficients]:
        """Numerator and denominator, three values each, normalised so that the denominator begins with 1.

        Raises
        ------
        ValueError
            If the frequency does not lie between 0 and half of `rate_hz`, or Q is not positive.
        """
        if not 0.0 < self.frequency_hz < rate_hz / 2:
            raise ValueError(
                f"a {self.kind} filter at {self.frequency_hz:g} Hz cannot be made at {rate_hz:g} Hz: "
                "its frequency must lie between 0 and half the rate"
            )
        if not self.q > 0.0:
            raise ValueError(f"a {self.kind} filter needs a Q above 0, got {self.q:g}")
        turn = self.frequency_hz / rate_hz
        cos = float(cosine(turn))
        alpha = float(sine(turn)) / (2.0 * self.q)
        gain = float(decibels(self.gain_db / 2.0))
        b, a = _unnormalised(self.kind, cos, alpha, gain)
        return np.array(b) / a[0], np.array(a) / a[0]


def apply(filters: tuple[Biquad, ...], samples: NDArray[np.float64], rate_hz: float) -> NDArray[np.float64]:
    """Samples of the same shape after all `filters` in turn, filtered along the first axis from rest."""
    from scipy.signal import lfilter

    out = np.asarray(samples, dtype=np.float64)
    for one in filters:
        b, a = one.coefficients(rate_hz)
        out = lfilter(b, a, out, axis=0)
    return out


def _unnormalised(kind: Kind, cos: float, alpha: float, gain: float) -> tuple[list[float], list[float]]:
    """Numerator and denominator as in the source; `gain` is its A, the root of the amplitude factor."""
    if kind == "peaking":
        return (
            [1.0 + alpha * gain, -2.0 * cos, 1.0 - alpha * gain],
            [1.0 + alpha / gain, -2.0 * cos, 1.0 - alpha / gain],
        )
    if kind == "high-pass":
        half = (1.0 + cos) / 2.0
        return [half, -2.0 * half, half], [1.0 + alpha, -2.0 * cos, 1.0 - alpha]
    if kind == "low-pass":
        half = (1.0 - cos) / 2.0
        return [half, 2.0 * half, half], [1.0 + alpha, -2.0 * cos, 1.0 - alpha]
    up, down, slope = gain + 1.0, gain - 1.0, 2.0 * alpha * float(np.sqrt(gain))
    side = -1.0 if kind == "high-shelf" else 1.0
    return (
        [
            gain * (up - side * down * cos + slope),
            side * 2.0 * gain * (down - side * up * cos),
            gain * (up - side * down * cos - slope),
        ],
        [
            up + side * down * cos + slope,
            -side * 2.0 * (down + side * up * cos),
            up + side * down * cos - slope,
        ],
    )
