"""Hand-written stand-ins for what a test must be able to make fail."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from audio.engine.playback import Audition, Faults, Position


def at_once(seconds: float) -> None:
    """Waiting, by a test that has no time."""


class SilentPlayer:
    """A player by hand: it keeps what it was asked for, and hears and stumbles as a test says."""

    def __init__(self) -> None:
        self.loaded: list[list[NDArray[np.float32]]] = []
        self.places: list[list[int]] = []
        self.asked: list[str] = []
        self.counts = Faults()
        self.heard: list[Audition] = []
        self.at = Position(None, 0, False)

    def load(self, stimuli: Sequence[NDArray[np.float32]], rate_hz: int, places: Sequence[int] = ()) -> None:
        self.loaded.append(list(stimuli))
        self.places.append(list(places))

    def play(self, index: int) -> None:
        self.asked.append(f"play {index}")
        self.at = Position(index, 4800, True)

    def play_from(self, index: int, frame: int) -> None:
        self.asked.append(f"play {index} from {frame}")
        self.at = Position(index, frame, True)

    def restart(self) -> None:
        self.asked.append("restart")

    def pause(self) -> None:
        self.asked.append("pause")

    def resume(self) -> None:
        self.asked.append("resume")

    def loop(self, start: int, end: int) -> None:
        self.asked.append(f"loop {start} {end}")

    def stop(self) -> None:
        self.asked.append("stop")
        self.at = Position(None, 0, False)

    def position(self) -> Position:
        return self.at

    def faults(self) -> Faults:
        return self.counts

    def trouble(self) -> str:
        return ""

    def auditions(self) -> list[Audition]:
        heard, self.heard = self.heard, []
        return heard
