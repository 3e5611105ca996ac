"""What a run looks for that finds the highest tone a listener notices; its rows are those of `threshold_rows`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar, Literal

from . import threshold_rows
from .store import Casebook
from .threshold_rows import KeptRun, Searched

Side = Literal["left", "right", "both"]


@dataclass(frozen=True)
class Reach:
    """Which tones can be played, how loud and how; two runs with the same of all this are one, taken up.

    Attributes
    ----------
    kind
        Always that of these runs.
    tones_hz
        What can be played, from the highest, which is the hardest to notice.
    alternatives, proportion, level, width, fewest, most, slopes, beyond, points
        As in `stats.adaptive_threshold.Search`; a step there is the ratio of the highest tone to the one played.
    level_dbfs
        Each tone's peak, re full scale.
    level_spl_db
        What a sound level meter read, at the ears, of the tone of 1 kHz at this level; None where it was set quiet by
        ear, so that nobody knows.
    side
        Which of two channels played.
    sha256
        Of all that can be played.
    device
        What played it.
    """

    kinds: ClassVar[tuple[str, ...]] = ("reach",)
    session_kind: ClassVar[str] = threshold_rows.THRESHOLD

    kind: Literal["reach"]
    tones_hz: tuple[int, ...]
    alternatives: int
    proportion: float
    level: float
    width: float | None
    fewest: int
    most: int
    slopes: tuple[float, ...]
    beyond: float
    points: int
    level_dbfs: float
    level_spl_db: float | None
    side: Side
    tone_ms: int
    ramp_ms: int
    rate_hz: int
    sha256: str
    device: str

    @property
    def steps(self) -> tuple[float, ...]:
        """How far below the highest tone each lies, as a ratio from 1."""
        return tuple(self.tones_hz[0] / one for one in self.tones_hz)

    @property
    def loudest_dba(self) -> float | None:
        """How loud it is at the ears: as the tone of 1 kHz, where the A-weighting is 0 and higher tones weigh less."""
        return self.level_spl_db

    def in_words(self, size: int) -> str:
        """A tone, by its place, in words."""
        return f"{self.tones_hz[size]} Hz"

    def same_but_device(self, other: Searched) -> bool:
        """Whether another run looks for the same, whatever played it."""
        return isinstance(other, Reach) and replace(self, device="") == replace(other, device="")


KeptReach = KeptRun[Reach]


def every(casebook: Casebook) -> list[KeptReach]:
    """All of these runs, in the order they were begun."""
    return threshold_rows.read(casebook, Reach)
