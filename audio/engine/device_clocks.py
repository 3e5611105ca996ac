"""How fast a device's clock runs while it plays, against the computer's and against another device's. Pure.

How far a recording's clock was off is read from its sound: `alignment.clock_drift`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

LEAST_STAMPS = 20
LEAST_SPAN_S = 5.0
TWO_SIDED_95 = 1.96


@dataclass(frozen=True)
class ClockDifference:
    """How much faster one clock runs than another, in parts per million, with its expanded uncertainty (95 %)."""

    ppm: float
    uncertainty_ppm: float

    @property
    def words(self) -> str:
        """The difference in words, with what it makes of a minute."""
        drift_ms = abs(self.ppm) * 0.06
        return f"{self.ppm:+.0f} ± {self.uncertainty_ppm:.0f} ppm ({drift_ms:.1f} ms in a minute)"


@dataclass
class DeviceClock:
    """Pairs of frames played and the time when the block began, as a device's callback noted them."""

    stamps: list[tuple[int, int]] = field(default_factory=list)

    def add(self, stamp: tuple[int, int]) -> None:
        """Add a pair (frames, nanoseconds), if it is a new one; a count that fell begins anew."""
        if self.stamps and stamp[0] < self.stamps[-1][0]:
            self.stamps.clear()
        if stamp[0] > 0 and (not self.stamps or stamp[0] != self.stamps[-1][0]):
            self.stamps.append(stamp)

    def rate_hz(self) -> tuple[float, float] | None:
        """The rate in frames per second and its standard error, by a straight line; None while too little is known."""
        if len(self.stamps) < LEAST_STAMPS:
            return None
        frames, moments = np.array(self.stamps, dtype=np.float64).T
        seconds = (moments - moments[0]) / 1e9
        if seconds[-1] < LEAST_SPAN_S:
            return None
        centred = seconds - seconds.mean()
        slope = float(centred @ frames / (centred @ centred))
        left = frames - frames.mean() - slope * centred
        error = float(np.sqrt(left @ left / (frames.size - 2) / (centred @ centred)))
        return slope, error


def difference(one: DeviceClock, other: DeviceClock) -> ClockDifference | None:
    """How much faster the first runs; None while too little is known."""
    first, second = one.rate_hz(), other.rate_hz()
    if first is None or second is None:
        return None
    ratio = first[0] / second[0]
    relative = np.hypot(first[1] / first[0], second[1] / second[0])
    return ClockDifference(1e6 * (ratio - 1), float(TWO_SIDED_95 * 1e6 * relative))
