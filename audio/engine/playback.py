"""The shape of anything that plays the stimuli of a trial, and what it tells. It plays nothing itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Position:
    """What sounds now: the stimulus (None for silence), the frame in the passage, and whether the music runs."""

    stimulus: int | None
    frame: int
    playing: bool


@dataclass(frozen=True)
class Faults:
    """Playback faults since the player was made; `switch_failures` are an outside switch's."""

    underruns: int = 0
    overruns: int = 0
    stalls: int = 0
    callback_errors: int = 0
    switch_failures: int = 0


@dataclass(frozen=True)
class Audition:
    """One stretch in which one stimulus sounded, from its first frame to the one after its last."""

    stimulus: int
    from_frame: int
    to_frame: int


class Playback(Protocol):
    """Anything that plays the stimuli of a trial."""

    def load(self, stimuli: Sequence[NDArray[np.float32]], rate_hz: int, places: Sequence[int] = ()) -> None:
        """Take the stimuli of the next trial, silent and at their start; `places` names the setup each belongs to."""

    def play(self, index: int) -> None:
        """Sound a stimulus, or switch to it at the same place in the music."""

    def play_from(self, index: int, frame: int) -> None:
        """Sound a stimulus from a frame of the passage, through the same fade or silence as a switch."""

    def restart(self) -> None:
        """Go back to the start of the passage."""

    def pause(self) -> None:
        """Fall silent and hold the place."""

    def resume(self) -> None:
        """Go on from the place held."""

    def loop(self, start: int, end: int) -> None:
        """Keep to a part of the passage from now on, by its first frame and the one after its last."""

    def stop(self) -> None:
        """Fall silent and go back to the start; returns in silence."""

    def position(self) -> Position:
        """What sounds now."""

    def faults(self) -> Faults:
        """The faults so far."""

    def trouble(self) -> str:
        """What an outside switch last complained of; empty for none."""

    def auditions(self) -> list[Audition]:
        """What was heard since the last call."""
