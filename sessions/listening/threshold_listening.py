"""A listener at the player in a run for a threshold: presentations heard as often as liked, then one of them named.

It draws no screen and tells no screen which presentation is the changed one, nor whether an answer was right. All
presentations are copies of equal size, and what is asked for is there after an equal time.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from audio.errors import DeviceError

from ..errors import CasebookBusy, ListenError
from . import disturbances, exposure
from .equal_times import ANSWERED_S, OPENING_S, READY_S, EqualTimes
from .threshold_run import ThresholdRun, ThresholdTrial
from .write_queue import WriteQueue

if TYPE_CHECKING:
    from audio.engine.playback import Playback, Position


class Sounds(Protocol):
    """All that a run plays."""

    @property
    def sounds(self) -> NDArray[np.float32]:
        """Shape (1 + sizes, frames, channels), the unchanged one first."""

    @property
    def heard_at(self) -> int:
        """The frame that must have sounded before a presentation counts as heard."""

    @property
    def from_start(self) -> bool:
        """Whether each presentation begins at its start, instead of where the last one was left."""


@dataclass(frozen=True)
class ThresholdNow:
    """What a screen may show: the trial's number, what sounds, what was heard, and where in the music."""

    trial: int
    playing: int | None
    heard: frozenset[int]
    paused: bool
    position_s: float
    length_s: float


class ThresholdListening:
    """A run at a player. `offer` brings the next trial, `hear` plays, `answer` keeps.

    Parameters
    ----------
    monotonic, sleep
        The clock, in seconds, and how to wait by it.
    """

    def __init__(
        self,
        run: ThresholdRun[Any],
        player: Playback,
        sounds: Sounds,
        *,
        monotonic: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], object] = time.sleep,
    ) -> None:
        self.run = run
        self._player = player
        self._sounds = sounds
        self._monotonic = monotonic
        self._times = EqualTimes(monotonic, sleep)
        self._unkept = WriteQueue(run.casebook, monotonic)
        self._offered: ThresholdTrial | None = None
        self._offered_at = 0.0
        self._opened = False
        self._paused = False
        self._heard: set[int] = set()
        self._heard_frames = [0] * run.sought.alternatives
        self._faults: dict[str, int] = {}
        self._in_a_row = 0
        self._warning = ""
        self._level_dba = run.sought.loudest_dba  # never depends on what is changed where

    def offer(self) -> bool:
        """Bring the next trial to the player, silent and at its start; False at the end of the run.

        Raises
        ------
        CasebookBusy
            If what came before cannot be written yet; it may be asked again.
        DeviceError
            If it cannot be played; it may be asked again.
        """
        with self._times.lasting(READY_S + (0.0 if self._opened else OPENING_S)):
            return self._bring()

    def _bring(self) -> bool:
        self.write_out()
        self._offered = offered = self.run.next_trial()
        if offered is None:
            self._player.stop()
            return False
        order = offered.order(self.run.sought.alternatives)
        copies = self._sounds.sounds[order]
        try:
            self._player.load(list(np.ascontiguousarray(copies)), self.run.sought.rate_hz, [0] * len(order))
        except DeviceError:
            self._opened = False
            raise
        self._opened = True
        self._player.auditions()
        self._faults = asdict(self._player.faults())
        self._heard, self._paused = set(), False
        self._heard_frames = [0] * len(order)
        self._offered_at = self._monotonic()
        return True

    def hear(self, place: int) -> None:
        """Play a presentation: from its start, or at the same place in the music as the last one."""
        if self._sounds.from_start:
            self._player.play_from(place, 0)
        else:
            self._player.play(place)
        self._paused = False

    def restart(self) -> None:
        """Go back to the start of the music."""
        self._player.restart()
        self._paused = False

    def pause(self) -> None:
        """Fade out and hold the place, or go on from it."""
        if self._paused:
            self._player.resume()
        else:
            self._player.pause()
        self._paused = not self._paused

    def unheard(self) -> list[int]:
        """The presentations that have not sounded yet."""
        self._notice()
        return [place for place in range(self.run.sought.alternatives) if place not in self._heard]

    def poll(self) -> str:
        """Keep what was heard; a sentence if a playback fault disturbed the trial, which then comes afresh."""
        heard = [event for event in self._player.auditions() if event.to_frame > event.from_frame]
        for event in heard:
            if event.to_frame >= self._sounds.heard_at:
                self._heard.add(event.stimulus)
            self._heard_frames[event.stimulus] += event.to_frame - event.from_frame
        self._notice()
        self._keep_exposure(sum(event.to_frame - event.from_frame for event in heard))
        counts = asdict(self._player.faults())
        risen = {kind: n - self._faults.get(kind, 0) for kind, n in counts.items() if n > self._faults.get(kind, 0)}
        for kind, count in risen.items():
            self._unkept.add(partial(self.run.fault, kind, count, f"trial {self.current.trial}"))
        self._faults = counts
        self._write_if_free()
        if not risen:
            return ""
        if "stalls" in risen:
            self._opened = False
        self._in_a_row += 1
        return disturbances.sentence(risen, self._in_a_row)

    @property
    def keeps_failing(self) -> bool:
        """Whether so many trials were disturbed in a row that another one should only come if somebody asks for it."""
        return self._in_a_row >= disturbances.ASKED_FROM

    def give_up(self) -> None:
        """Fall silent after disturbed trials, until the next `offer`; that this was so goes on record."""
        self._player.stop()
        self._unkept.add(partial(self.run.mark, "paused", f"the sound was disturbed {self._in_a_row} times in a row"))
        self._write_if_free()

    def answer(self, place: int) -> str:
        """Keep which one was named, in a fixed time; a sentence if the trial turned out to be disturbed.

        Raises
        ------
        CasebookBusy
            If it cannot be written yet. It is held, and the next `offer` writes it first.
        ListenError
            If not all were heard, or there is no such presentation.
        """
        offered = self.current
        if self.unheard():
            raise ListenError("all of them must sound before one is named")
        after_ms = round(1000 * (self._monotonic() - self._offered_at))
        with self._times.lasting(ANSWERED_S):
            self._player.stop()
            fault = self.poll()
            if not fault:
                rate_hz = self.run.sought.rate_hz
                heard_ms = [round(1000 * frames / rate_hz) for frames in self._heard_frames]
                self._unkept.add(self.run.answering(offered, place, after_ms, heard_ms))
                self._in_a_row = 0
                self.write_out()
        return fault

    def leave(self) -> None:
        """Fall silent; what was heard is kept, and the trial is drawn anew when the run is taken up."""
        self._player.stop()
        if self._offered is not None:
            self.poll()

    def write_out(self) -> None:
        """Write all that is held; when this returns it is on disk.

        Raises
        ------
        CasebookBusy
            If the casebook is in use; everything is still held.
        """
        self._unkept.flush()

    @property
    def waiting(self) -> str:
        """For what is waited because the casebook cannot be written; empty where nothing is held."""
        return self._unkept.waiting

    @property
    def warning(self) -> str:
        """What to say of the noise dose; empty while there is no need, or the level is not known."""
        return self._warning

    @property
    def current(self) -> ThresholdTrial:
        """The trial on offer."""
        if self._offered is None:
            raise ListenError("no trial is on offer")
        return self._offered

    def now(self) -> ThresholdNow:
        """What may be shown."""
        position, sought = self._notice(), self.run.sought
        sounds = position.playing and not self._paused
        return ThresholdNow(
            self.current.trial,
            position.stimulus if sounds else None,
            frozenset(self._heard),
            self._paused,
            min(position.frame, self._frames) / sought.rate_hz,
            self._frames / sought.rate_hz,
        )

    @property
    def _frames(self) -> int:
        return int(self._sounds.sounds.shape[1])

    def _notice(self) -> Position:
        """What sounds now, which has been heard from now on: asked for is not heard, nor is the silence at the end."""
        position = self._player.position()
        inside = self._sounds.heard_at <= position.frame < self._frames
        if position.playing and position.stimulus is not None and not self._paused and inside:
            self._heard.add(position.stimulus)
        return position

    def _keep_exposure(self, frames: int) -> None:
        if self._level_dba is None or not frames:
            return
        kept, heard_s = self.run.kept, frames / self.run.sought.rate_hz
        keep = partial(
            exposure.keep, self.run.casebook, kept.listener_id, kept.session_id, heard_s, self._level_dba
        )  # fmt: skip
        self._unkept.add(keep)
        self._unkept.add(self._weigh)

    def _weigh(self) -> None:
        self._warning = exposure.dose(self.run.casebook, self.run.kept.listener_id).warning

    def _write_if_free(self) -> None:
        if self._unkept.due:
            with suppress(CasebookBusy):
                self._unkept.flush()
