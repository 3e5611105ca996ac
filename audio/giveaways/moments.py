"""One moment at which a recording is at fault. Data."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Moment:
    """One fault: when (its middle) and how long, in seconds, in which channel (from 0), how large.

    Whether it is the other's, None: unknown.
    """

    at_s: float
    lasts_s: float
    channel: int
    size: float
    others: bool | None

    @property
    def start_s(self) -> float:
        """When it begins."""
        return self.at_s - self.lasts_s / 2

    @property
    def end_s(self) -> float:
        """When it ends."""
        return self.at_s + self.lasts_s / 2
