"""Playback whose every switch goes through silence: an outside switch, or setups on several devices.

Each request takes the same steps and the same time, whatever changes: fade out, wait until the last sound has left the
buffers, let the switch work, and fade in at the place held, a fixed time after silence began. If the switch fails, it
stays silent and a fault is counted. The waiting is done by a thread, so that a request returns at once.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict

import numpy as np
from numpy.typing import NDArray

from ..errors import DeviceError
from .device_clocks import DeviceClock
from .playback import Audition, Faults, Position
from .player import Player
from .switches import Switch, SwitchError

SILENT_WITHIN_S = 2.0


class InterruptedPlayer:
    """Several players, or one before a switch, as one playback.

    Parameters
    ----------
    players
        One for each device.
    player_of
        Which of them a setup's place plays on.
    hold_s
        Silence between what was heard and what is heard next.
    switch
        What leads the sound to a setup's gear; None where each has its own device.
    settle_s
        Of the hold, the time after the switch has answered.
    """

    def __init__(
        self,
        players: Sequence[Player],
        player_of: Callable[[int], int],
        hold_s: float,
        switch: Switch | None = None,
        settle_s: float = 0.0,
    ) -> None:
        self._players = list(players)
        self._player_of = player_of
        self._hold_s = hold_s
        self._switch = switch
        self._settle_s = settle_s
        self._clocks = [DeviceClock() for _ in players]
        self._places: list[int] = []
        self._lock = threading.RLock()
        self._turn = threading.Lock()  # one switch at a time, whatever was asked for in between
        self._serial = 0  # rises with every request; a thread whose number is old gives up
        self._now = 0  # the player that sounds, or sounded last
        self._index: int | None = None
        self._frame = 0
        self._paused = False
        self._switching = False
        self._failures = 0
        self._trouble = ""

    def __enter__(self) -> InterruptedPlayer:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def load(self, stimuli: Sequence[NDArray[np.float32]], rate_hz: int, places: Sequence[int] = ()) -> None:
        """Take a trial's stimuli; `places` names the setup of each."""
        self._cancel()
        for number, player in enumerate(self._players):
            here = [place if self._player_of(place) == number else self._first_of(number) for place in places]
            player.load(stimuli, rate_hz, here)
        with self._lock:
            self._places, self._index, self._frame, self._paused = list(places), None, 0, False

    def play(self, index: int) -> None:
        """Let a stimulus sound after the switch, at the place held."""
        with self._lock:
            self._paused = False
            self._begin(index, self._where())

    def restart(self) -> None:
        """Let the same stimulus sound from the start, after the same steps."""
        with self._lock:
            self._paused = False
            if self._index is not None:
                self._begin(self._index, 0)
            self._frame = 0

    def pause(self) -> None:
        """Fade out and hold the place."""
        with self._lock:
            self._paused = True
            self._players[self._now].pause()

    def resume(self) -> None:
        """Go on from the place held; while the switch works, go on when it is done."""
        with self._lock:
            self._paused = False
            if not self._switching:
                self._players[self._now].resume()

    def stop(self) -> None:
        """Fade out and go back to the start."""
        self._cancel()
        for player in self._players:
            player.stop()
        with self._lock:
            self._index, self._frame = None, 0

    def position(self) -> Position:
        """What sounds now; nothing while the switch works."""
        for clock, player in zip(self._clocks, self._players, strict=True):
            clock.add(player.stamp())
        with self._lock:
            found = self._players[self._now].position()
            if self._switching:
                return Position(None, self._frame, False)
            return found

    def faults(self) -> Faults:
        """The faults of all players, and the switch's."""
        counts = [asdict(player.faults()) for player in self._players]
        total = {name: sum(count[name] for count in counts) for name in counts[0]}
        return Faults(**total | {"switch_failures": self._failures})

    def trouble(self) -> str:
        """What the switch last complained of."""
        return self._trouble

    def auditions(self) -> list[Audition]:
        """What was heard since the last call, on any device."""
        return [heard for player in self._players for heard in player.auditions()]

    def clocks(self) -> list[DeviceClock]:
        """Each device's clock as far as it was watched."""
        return self._clocks

    def close(self) -> None:
        """Stop, and leave the switch in its neutral position."""
        self._cancel()
        for player in self._players:
            player.close()
        if self._switch is not None:
            with contextlib.suppress(SwitchError):
                self._switch.close()

    def _begin(self, index: int, frame: int) -> None:
        self._serial += 1
        self._switching = True
        self._frame = frame
        self._index = index
        self._players[self._now].pause()
        threading.Thread(target=self._through_silence, args=(self._serial, index, frame), daemon=True).start()

    def _through_silence(self, serial: int, index: int, frame: int) -> None:
        """The steps of one request, in a thread of its own."""
        try:
            old = self._players[self._now]
            old.wait_silent(SILENT_WITHIN_S)
            latest = max(player.latency_s for player in self._players)
            time.sleep(old.latency_s)  # what was faded is still on its way out
            begun = time.monotonic()
            place = self._places[index]
            if self._switch is not None and not self._outdated(serial):
                with self._turn:
                    self._switch.to(place, self._hold_s - self._settle_s)
            target = self._player_of(place)
            early = latest - self._players[target].latency_s  # so that every device sounds after the same time
            time.sleep(max(0.0, begun + self._hold_s + early - time.monotonic()))
            with self._lock:
                if serial == self._serial:
                    self._now, self._switching = target, False
                    self._players[target].play_from(index, frame)
                    if self._paused:
                        self._players[target].pause()
        except (SwitchError, DeviceError) as error:
            with self._lock:
                self._trouble = str(error)
                self._failures += 1
                if serial == self._serial:
                    self._switching = False

    def _outdated(self, serial: int) -> bool:
        with self._lock:
            return serial != self._serial

    def _where(self) -> int:
        """The frame that is held, or sounding now."""
        return self._frame if self._switching or self._index is None else self._players[self._now].position().frame

    def _first_of(self, number: int) -> int:
        """A place that plays on this device, to stand in for those that do not."""
        return next(place for place in range(1000) if self._player_of(place) == number)

    def _cancel(self) -> None:
        with self._lock:
            self._serial += 1
            self._switching = False
