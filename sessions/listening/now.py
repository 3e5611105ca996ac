"""What a listening screen may show at a moment. A record; it looks nothing up."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Now:
    """What an interface may show: nothing here depends on the key."""

    trial: int
    trials: int
    playing: str | None
    passage: str
    position_s: float
    length_s: float
    loop_s: tuple[float, float] | None
    paused: bool
    heard: frozenset[str]
    rest_due: bool
