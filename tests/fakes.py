"""Hand-written stand-ins for what a test must be able to make fail."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

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


class RunningPlayer(SilentPlayer):
    """A player by hand whose music runs by the clock, and that tells what was heard of it; it goes round and round."""

    def __init__(self, monotonic: Callable[[], float] = time.monotonic) -> None:
        super().__init__()
        self._monotonic = monotonic
        self._since = 0.0
        self._from = 0
        self._rate_hz = self._frames = 1

    def load(self, stimuli: Sequence[NDArray[np.float32]], rate_hz: int, places: Sequence[int] = ()) -> None:
        super().load([], rate_hz, places)  # a long evening's sounds are not kept
        self._rate_hz, self._frames = rate_hz, len(stimuli[0])
        self._turn(Position(None, 0, False))

    def play(self, index: int) -> None:
        self._turn(Position(index, self.position().frame, True))

    def play_from(self, index: int, frame: int) -> None:
        self._turn(Position(index, frame, True))

    def restart(self) -> None:
        self._turn(Position(self.at.stimulus, 0, self.at.playing))

    def pause(self) -> None:
        self._turn(Position(self.at.stimulus, self.position().frame, False))

    def resume(self) -> None:
        self._turn(Position(self.at.stimulus, self.position().frame, self.at.stimulus is not None))

    def stop(self) -> None:
        self._turn(Position(None, 0, False))

    def position(self) -> Position:
        if not self.at.playing:
            return self.at
        ran = round((self._monotonic() - self._since) * self._rate_hz)
        return Position(self.at.stimulus, (self._from + ran) % self._frames, True)

    def _turn(self, to: Position) -> None:
        here = self.position()
        if here.playing and here.stimulus is not None and here.frame > self._from:
            self.heard.append(Audition(here.stimulus, self._from, here.frame))
        self.at, self._from, self._since = to, to.frame, self._monotonic()
