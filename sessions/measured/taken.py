"""What is kept of a curve that was taken here by a sweep: how, how clear of noise, and what disturbed it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from audio.curves.curve import Curve, Numbers, log_grid
from audio.curves.noise_floor import CLEAR_DB
from audio.curves.smooth import smoothed
from audio.curves.sweep import Sweep

CLEAR_FRACTION = 12.0
LOWEST_FLOOR_HZ = 10.0


@dataclass(frozen=True)
class Taken:
    """How a sweep was taken.

    Attributes
    ----------
    sweep
        As it was played.
    averages, used
        How many were played, and which of them (from 1) are in the curve.
    noise_db
        Level of the response's last tenth, below its peak.
    harmonics_percent
        By order: the most of each harmonic that stands clear of its floor; 0 where nothing does.
    arrival_ms
        From the first sample played to the strongest of the response: devices, air and loudspeaker together.
    clock_ppm, drift_db
        How much faster the recorder's clock ran, and how the level changed during the take.
    disturbances
        What disturbed it, a sentence each.
    source_height_m, microphone_height_m
        Above the floor; None where nobody said.
    distance_db
        What was added to the level for a way longer than the stated distance.
    floor_hz, floor_db
        The noise floor of this very curve, in its own unit; it is valid where it exceeds this by `clear_db`.
    harmonics_gated
        Whether its harmonics were taken by its gate; before, they were taken with all reflections of 0.1 s.
    """

    sweep: Sweep
    averages: int
    used: tuple[int, ...]
    noise_db: float
    harmonics_percent: dict[int, float]
    arrival_ms: float = 0.0
    clock_ppm: float = 0.0
    drift_db: float = 0.0
    disturbances: tuple[str, ...] = ()
    source_height_m: float | None = None
    microphone_height_m: float | None = None
    distance_db: float = 0.0
    floor_hz: tuple[float, ...] = ()
    floor_db: tuple[float, ...] = ()
    clear_db: float = CLEAR_DB
    harmonics_gated: bool = False

    @property
    def floor(self) -> Curve | None:
        """The noise floor as a curve; None where none was kept."""
        return Curve(np.array(self.floor_hz), np.array(self.floor_db)) if len(self.floor_hz) > 1 else None

    def with_floor(self, floor: Curve) -> Taken:
        """The same with this floor: its power mean around each of twelve frequencies an octave."""
        hz = log_grid(max(float(floor.hz[0]), LOWEST_FLOOR_HZ), float(floor.hz[-1]), round(CLEAR_FRACTION))
        level = smoothed(floor, CLEAR_FRACTION).at(hz)
        return replace(
            self,
            floor_hz=tuple(round(float(one), 2) for one in hz),
            floor_db=tuple(round(float(one), 2) for one in level),
        )

    def floor_at(self, hz: Numbers) -> Numbers | None:
        """The floor at other frequencies, held beyond its ends; None where none was kept."""
        floor = self.floor
        return None if floor is None else floor.at(np.clip(hz, floor.hz[0], floor.hz[-1]))

    @property
    def least_percent(self) -> float | None:
        """What a harmonic must reach to be seen, in the middle of what was measured, in %; None without a floor."""
        if not self.floor_db:
            return None
        return float(100 * 10 ** ((np.median(self.floor_db) + self.clear_db) / 20))

    def clear(self, curve: Curve) -> np.ndarray:
        """Which points of this curve stand clear of its floor, over 1/12 octave: single lines of noise reach far up."""
        floor_db = self.floor_at(curve.hz)
        if floor_db is None:
            return np.ones(len(curve.hz), dtype=bool)
        return np.asarray(smoothed(curve, CLEAR_FRACTION).level_db >= floor_db + self.clear_db)
