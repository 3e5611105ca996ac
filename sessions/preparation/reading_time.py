"""How long reading real setups at the microphone takes, told before and while it is done. It reads nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from audio.room import reading
from audio.track_time import told

DEVICE_S = 1.5  # of a take: the silences before and after what is played (1.4 s, `audio.engine.recorder`), opening it
ROUND_TO_S = 5


@dataclass
class ReadingTime:
    """What is left of the takes of both passes, in seconds.

    Attributes
    ----------
    channels
        Of each setup, in the order in which they are read.
    turn_s
        How long each noise lasts.
    """

    channels: Sequence[int]
    positions: int
    turn_s: float
    progress: Callable[[str], None]

    def __post_init__(self) -> None:
        a_pass = self.positions * (self._silence_s + sum(map(self._setup_s, self.channels)))
        self._left_s = 2 * a_pass + reading.step_s()

    def silence(self) -> None:
        """Tell that the room's silence is recorded now."""
        self._tell("recording the silence of the room", self._silence_s)

    def setup(self, name: str, number: int, place: int, *, step: bool) -> None:
        """Tell that a setup is read now: its name, number and place of the microphone, both from 0."""
        where = f" at position {place + 1} of {self.positions}" if self.positions > 1 else ""
        which = f"reading {name} ({number + 1} of {len(self.channels)}){where}"
        self._tell(which, self._setup_s(self.channels[number]) + (reading.step_s() if step else 0.0))

    @property
    def _silence_s(self) -> float:
        return self.turn_s + DEVICE_S

    def _setup_s(self, channels: int) -> float:
        return reading.signal_s(self.turn_s, channels) + DEVICE_S

    def _tell(self, what: str, lasts_s: float) -> None:
        left_s = ROUND_TO_S * max(1, round(self._left_s / ROUND_TO_S))
        self.progress(f"{what} … about {told(left_s)} left")
        self._left_s -= lasts_s
