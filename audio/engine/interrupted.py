"""Playback whose every switch goes through silence: an outside switch, or setups on several devices.

Each request takes the same steps at the same moments, whatever changes: fade out, wait until the last sound has left
the buffers, let the switch work, and fade in at the place held. Moments are those at which something is heard: a device
that answers sooner than the others is asked later by as much, so that its quickness tells nothing, and where the music
is follows from the clock that all share. If the switch fails, it stays silent and a fault is counted at the moment at
which sound would have come back. The waiting is done by a thread, so that a request returns at once.
"""

from __future__ import annotations

import contextlib
import math
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
FADED_S = 0.05  # from the request for silence to its being there, besides the device's latency: a block and a fade


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
    setups
        How many places there are.
    """

    def __init__(
        self,
        players: Sequence[Player],
        player_of: Callable[[int], int],
        hold_s: float,
        switch: Switch | None = None,
        settle_s: float = 0.0,
        *,
        setups: int = 2,
    ) -> None:
        self._players = list(players)
        self._player_of = player_of
        self._hold_s = hold_s
        self._switch = switch
        self._settle_s = settle_s
        self._setups = setups
        self._clocks = [DeviceClock() for _ in players]
        self._places: list[int] = []
        self._rate_hz, self._pause = 1, 0  # of the passage, and of the silence after it in frames
        self._first, self._end = 0, 1  # of what is played: the passage, or a loop in it
        self._lock = threading.RLock()
        self._turn = threading.Lock()  # one request's steps at a time, whatever was asked for in between
        self._serial = 0  # rises with every request; a thread whose number is old gives up
        self._now = 0  # the player that sounds, or sounded last
        self._index: int | None = None
        self._frame = 0  # where the music is held, or was when it was heard again
        self._heard_from_s = 0.0  # when that was
        self._paused = False
        self._switching = False
        self._failures = 0
        self._tried = 0  # failures after which the switch was tried for every setup
        self._trouble = ""

    def __enter__(self) -> InterruptedPlayer:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def load(self, stimuli: Sequence[NDArray[np.float32]], rate_hz: int, places: Sequence[int] = ()) -> None:
        """Take a trial's stimuli; `places` names the setup of each.

        Raises
        ------
        DeviceError
            If a device does not play, or the switch, having failed before, does not reach every setup: trials that
            only one setup can be heard in would tell which it is.
        """
        self._cancel()
        self._try_every_setup()
        for number, player in enumerate(self._players):
            here = [place if self._player_of(place) == number else self._first_of(number) for place in places]
            player.load(stimuli, rate_hz, here)
        with self._lock:
            self._places, self._index, self._frame, self._paused = list(places), None, 0, False
            self._rate_hz = rate_hz
            self._first, self._end = 0, stimuli[0].shape[0]
            self._pause = math.ceil(self._players[0].pause_s * rate_hz)

    def play(self, index: int) -> None:
        """Let a stimulus sound after the switch, at the place held."""
        with self._lock:
            frame = self._held()
            self._paused = False
            self._begin(index, frame)

    def play_from(self, index: int, frame: int) -> None:
        """Let a stimulus sound after the switch, from a frame of the passage."""
        with self._lock:
            self._paused = False
            self._begin(index, frame)

    def restart(self) -> None:
        """Let the same stimulus sound from the start (of the loop, if there is one), after the same steps."""
        with self._lock:
            self._paused = False
            if self._index is not None:
                self._begin(self._index, self._first)
            self._frame = self._first

    def pause(self) -> None:
        """Fade out and hold the place."""
        with self._lock:
            if self._sounding:
                self._frame = self._held()
                threading.Thread(target=self._fade_out, daemon=True).start()
            self._paused = True

    def resume(self) -> None:
        """Go on from the place held; while the switch works, go on when it is done."""
        with self._lock:
            if self._paused and not self._switching and self._index is not None:
                self._heard_from_s = time.monotonic() + self._latest_s
                threading.Thread(target=self._fade_in, args=(self._index,), daemon=True).start()
            self._paused = False

    def loop(self, start: int, end: int) -> None:
        """Keep to a part of the passage from now on: a fade, but no step of the switch, since nothing else is heard."""
        with self._lock:
            now = time.monotonic()
            if self._sounding:
                self._frame, self._heard_from_s = self._heard_at(now), max(now, self._heard_from_s)
            self._first, self._end = start, end
            if not start <= self._frame < end + self._pause:
                self._frame, self._heard_from_s = start, now + self._latest_s
            if self._sounding:
                threading.Thread(target=self._turn_to_loop, daemon=True).start()

    def stop(self) -> None:
        """Fade out and go back to the start."""
        with self._lock:
            early = self._early_s(self._now) if self._sounding else 0.0
            self._cancel()
        time.sleep(early)
        for player in self._players:
            player.stop()
        with self._lock:
            self._index, self._frame = None, self._first

    def position(self) -> Position:
        """What is heard now; nothing while the switch works."""
        for clock, player in zip(self._clocks, self._players, strict=True):
            clock.add(player.stamp())
        with self._lock:
            if not self._sounding:
                return Position(None, self._frame, False)
            return Position(self._index, self._heard_at(time.monotonic()), True)

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
        threading.Thread(target=self._through_silence, args=(self._serial, index, frame), daemon=True).start()

    def _through_silence(self, serial: int, index: int, frame: int) -> None:
        """The steps of one request, in a thread of its own."""
        with self._turn:
            if self._outdated(serial):
                return
            begun = time.monotonic()
            _until(begun + self._early_s(self._now))
            self._players[self._now].pause()
            self._players[self._now].wait_silent(SILENT_WITHIN_S)
            silent = max(begun + self._latest_s + FADED_S, time.monotonic())
            _until(silent)
            place = self._places[index]
            target = self._player_of(place)
            trouble = self._switched(place)
            _until(silent + self._hold_s + self._early_s(target))
            with self._lock:
                self._now = target
                asked = serial == self._serial and not trouble and not self._paused
                if asked:
                    self._players[target].loop(self._first, self._end)
                    self._players[target].play_from(index, frame)
            _until(silent + self._hold_s + self._latest_s)
            self._done(serial, trouble, asked=asked)

    def _done(self, serial: int, trouble: str, *, asked: bool) -> None:
        """The last step: what was asked for is heard from now on, or known to have failed."""
        with self._lock:
            if trouble:
                self._trouble = trouble
                self._failures += 1
            if serial != self._serial:
                return
            self._switching, self._heard_from_s = False, time.monotonic()
            if trouble:
                self._index = None
            elif asked and self._paused:
                self._players[self._now].pause()
            elif not asked and not self._paused:  # paused, and gone on, in the last moment
                self._paused = True
                self.resume()

    def _switched(self, place: int) -> str:
        """Let the switch work, if there is one; what it complains of."""
        try:
            if self._switch is not None:
                self._switch.to(place, self._hold_s - self._settle_s)
        except (SwitchError, DeviceError) as error:
            return str(error)
        return ""

    def _fade_out(self) -> None:
        with self._turn:
            begun = time.monotonic()
            _until(begun + self._early_s(self._now))
            self._players[self._now].pause()
            _until(begun + self._latest_s)

    def _fade_in(self, index: int) -> None:
        with self._turn:
            begun = time.monotonic()
            _until(begun + self._early_s(self._now))
            with self._lock:
                if self._sounding and self._index == index:
                    self._players[self._now].loop(self._first, self._end)
                    self._players[self._now].play_from(index, self._frame)
            _until(begun + self._latest_s)

    def _turn_to_loop(self) -> None:
        with self._turn:
            begun = time.monotonic()
            _until(begun + self._early_s(self._now))
            with self._lock:
                if self._sounding:  # otherwise it is told when it sounds again
                    self._players[self._now].loop(self._first, self._end)
            _until(begun + self._latest_s)

    def _try_every_setup(self) -> None:
        """After a failure: lead the sound to each setup in the plan's order, each in the same time."""
        if self._switch is None or self._tried == self._failures:
            return
        with self._turn:
            failures = self._failures
            for place in range(self._setups):
                begun = time.monotonic()
                self._switch.to(place, self._hold_s - self._settle_s)
                _until(begun + self._hold_s)
            self._tried = failures

    @property
    def _sounding(self) -> bool:
        return self._index is not None and not self._switching and not self._paused

    @property
    def _latest_s(self) -> float:
        """The latency of the slowest device, by which all go."""
        return max(player.latency_s for player in self._players)

    def _early_s(self, number: int) -> float:
        """By how much a device is to be asked later than the slowest."""
        return self._latest_s - self._players[number].latency_s

    def _heard_at(self, moment_s: float) -> int:
        """The frame that is heard at a moment, while it sounds."""
        frame = self._frame + max(0, round((moment_s - self._heard_from_s) * self._rate_hz))
        end = self._end + self._pause
        return frame if frame < end else self._first + (frame - end) % (end - self._first)

    def _held(self) -> int:
        """The frame at which the music will be heard to stop if silence is asked for now, or is held already."""
        return self._heard_at(time.monotonic() + self._latest_s) if self._sounding else self._frame

    def _outdated(self, serial: int) -> bool:
        with self._lock:
            return serial != self._serial

    def _first_of(self, number: int) -> int:
        """A place that plays on this device, to stand in for those that do not."""
        return next(place for place in range(self._setups) if self._player_of(place) == number)

    def _cancel(self) -> None:
        with self._lock:
            self._serial += 1
            self._switching = False


def _until(moment_s: float) -> None:
    time.sleep(max(0.0, moment_s - time.monotonic()))
