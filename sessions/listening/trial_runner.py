"""A listener at the player: one trial after the other, each heard, answered and kept. It draws no screen.

It joins a session (what is kept) with a player (what is heard). Whatever interface sits on top sees labels only, and
nothing it could measure depends on the key: for every trial all files of its passage are read, each label gets a copy
of its own, and what was asked for is there after an equal time.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext, suppress
from dataclasses import asdict
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from audio.errors import DeviceError

from ..errors import CasebookBusy, ListenError
from ..plans.plan_parts import PlannedPassage
from ..preparation.prepared_audio import SealedFile
from . import disturbances, equal_times, exposure
from .equal_times import ANSWERED_S, OPENING_S, EqualTimes
from .now import Now
from .passage_loops import PassageLoops
from .passage_sounds import PassageSounds
from .session import Offered, Session
from .write_queue import WriteQueue

if TYPE_CHECKING:
    from audio.engine.playback import Playback, Position

PAUSE_AFTER_S = 20 * 60  # a rest suggests itself: ITU-R BS.1116 sessions last 20 to 30 minutes (from memory)


class TrialRunner:
    """A session at a player. `offer` brings the next trial, `hear` plays, `answer` keeps.

    Parameters
    ----------
    level_dba
        The level at the ears as the listener's meter reads it, where no match sheet knows it.
    announce
        Is given the number of each trial as it is offered.
    before_s
        Of the time that a trial takes to appear, in seconds: what passes before anything is done for it.
    sounds
        Passages as they were read; shared by all who listen at once.
    turn
        Held while a trial is copied and given to the player.
    monotonic, sleep
        The clock, in seconds, and how to wait by it.
    """

    def __init__(
        self,
        session: Session,
        player: Playback,
        *,
        monotonic: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], object] = time.sleep,
        level_dba: float | None = None,
        announce: Callable[[int], None] | None = None,
        before_s: float = 0.0,
        sounds: PassageSounds | None = None,
        turn: AbstractContextManager[object] | None = None,
    ) -> None:
        self.session = session
        self.method = session.method
        self._player = player
        self._monotonic = monotonic
        self._times = EqualTimes(monotonic, sleep)
        self._appears_s = equal_times.appears_s(session.plan)
        self._before_s = before_s
        self._opened = False  # the playback engine, as far as is known here
        self._since_rest = monotonic()
        self._offered: Offered | None = None
        self._offered_at = 0.0
        self._heard: set[str] = set()
        self._paused = False
        self._loops = PassageLoops()
        self._faults: dict[str, int] = {}
        self._disturbed = ""
        self._in_a_row = 0  # trials that were disturbed, since an answer was kept
        self._sounds = PassageSounds() if sounds is None else sounds
        self._turn = nullcontext() if turn is None else turn
        self._levels_dba = exposure.chair_levels_dba(session.casebook, session.plan)
        self._level_dba = level_dba
        self._warning = ""
        self._exposed = False  # since the warning was worked out
        self._announce = announce
        self._unkept = WriteQueue(session.casebook, monotonic)

    def offer(self) -> Offered | None:
        """Bring the next trial to the player, silent and at its start; None when all trials are answered.

        It is there a fixed time after it was asked for, or a multiple of that time if the work took longer.

        Raises
        ------
        CasebookBusy
            If what came before cannot be written yet, or the trial not be read or kept; it is silent, and may be
            asked again.
        DeviceError
            If it cannot be played; it may be asked again.
        ListenError
            If prepared audio of its passage is missing or not what was sealed, needed for this key or not.
        """
        with self._times.lasting(self._appears_s + (0.0 if self._opened else OPENING_S), self._before_s):
            self._bring()
        self._offered_at = self._monotonic()
        return self._offered

    def _bring(self) -> None:
        try:
            self.write_out()
            self._offered = offered = self.session.next_trial()
        except CasebookBusy:
            self._player.stop()
            raise
        if offered is None:
            self._player.stop()
            return
        if self._announce is not None:
            self._announce(offered.trial)
        setups = len(self.session.plan.setups)
        heard = [offered.key[label] for label in self.method.stimuli]
        places = [place if place < setups else 0 for place in heard]  # what is made of the first setup plays there
        sounds = self._passage_sounds(offered.passage)
        try:
            with self._turn:
                self._player.load(list(sounds[heard]), offered.passage.rate_hz, places)
        except DeviceError:
            self._opened = False
            raise
        self._opened = True
        if self._loops.part_s(offered.passage) is not None:
            self._player.loop(*self._loops.part(offered.passage))
        self._player.auditions()
        self._faults = self._fault_counts()
        self._heard, self._paused = set(), False

    def hear(self, stimulus: str) -> None:
        """Play a stimulus, or switch to it at the same place in the music."""
        self._player.play(self.method.stimuli.index(stimulus))
        self._disturbed = ""
        self._paused = False

    def restart(self) -> None:
        """Go back to the start of the passage."""
        self._player.restart()
        self._paused = False

    def pause(self) -> None:
        """Fade out and hold the place, or go on from it."""
        if self._paused:
            self._player.resume()
        else:
            self._player.pause()
        self._paused = not self._paused
        self.keep(partial(self.session.mark, "paused" if self._paused else "resumed"))

    def loop_from_here(self) -> str:
        """Let the loop in this passage begin where the music is; why it cannot, or nothing."""
        return self._looped(self._loops.begin(self.current.passage, self._frame))

    def loop_to_here(self) -> str:
        """Let the loop in this passage end where the music is; why it cannot, or nothing."""
        return self._looped(self._loops.end(self.current.passage, self._frame))

    def no_loop(self) -> None:
        """Play the whole passage again, from where the music is."""
        self._loops.clear(self.current.passage)
        self._looped()

    def rested(self) -> None:
        """Note that the listener took a rest."""
        self._since_rest = self._monotonic()

    def may_answer(self) -> bool:
        """Whether enough was heard: X in an ABX trial, all of them in the other methods."""
        self._notice()
        return set(self.method.needed) <= self._heard

    def poll(self) -> str | None:
        """Keep what was auditioned since the last call; a sentence if a playback fault disturbed the trial.

        The disturbed trial goes on record with its fault; the caller asks for the next `offer`. While the casebook is
        in use, nothing is written and nothing lost: `waiting` says so, and a later call writes it.
        """
        disturbed = self._gather()
        self._write_if_free()
        return disturbed

    def _gather(self) -> str | None:
        """Queue what was auditioned since the last call; a sentence if a playback fault disturbed the trial."""
        offered = self.current
        heard = self._player.auditions()
        for event in heard:
            label = self.method.stimuli[event.stimulus]
            self._heard.add(label)
            self._unkept.add(partial(self.session.audition, offered, label, event.from_frame, event.to_frame))
        self._notice()
        self._keep_exposure(offered, sum(event.to_frame - event.from_frame for event in heard))
        counts = self._fault_counts()
        risen = {kind: n - self._faults.get(kind, 0) for kind, n in counts.items() if n > self._faults.get(kind, 0)}
        trouble = self._player.trouble()
        for kind, count in risen.items():
            self._unkept.add(partial(self.session.fault, offered, kind, count, trouble or "during the trial"))
        self._faults = counts
        if not risen:
            return None
        if "stalls" in risen:
            self._opened = False
        self._in_a_row += 1
        self._disturbed = disturbances.sentence(risen, self._in_a_row)
        return self._disturbed

    @property
    def keeps_failing(self) -> bool:
        """Whether so many trials were disturbed in a row that another one should only come if somebody asks for it."""
        return self._in_a_row >= disturbances.ASKED_FROM

    def give_up(self) -> None:
        """Fall silent after disturbed trials, until `take_up`; that this was so, and how often, goes on record."""
        self._player.stop()
        why = f"the sound was disturbed {self._in_a_row} times in a row"
        self.keep(partial(self.session.mark, "paused", why))

    def take_up(self) -> None:
        """Note that the listener wants to try again; the caller asks for the next `offer`."""
        self.keep(partial(self.session.mark, "resumed"))

    def answer(self, answer: str, sureness: int) -> str | None:
        """Keep the answer; None when it is on disk, or a sentence if the trial turned out to be disturbed.

        It takes a fixed time, as `offer` does.

        Raises
        ------
        CasebookBusy
            If it cannot be written yet. It is held, and the next `offer` writes it first.
        ListenError
            If the method knows no such answer or the sureness is not 1 to 4.
        """
        offered = self.current
        after_ms = round(1000 * (self._monotonic() - self._offered_at))
        with self._times.lasting(ANSWERED_S):
            self._player.stop()
            fault = self._gather()
            if fault is not None:
                self._write_if_free()
            else:  # what was heard is written with the answer, at once
                self.session.check_answer(answer, sureness)
                try:
                    write = self.session.answering(offered, answer, sureness, after_ms)
                except CasebookBusy:  # what it comes to cannot be read now: it is worked out where it is written
                    write = partial(self.session.answer, offered, answer, sureness, after_ms)
                self._unkept.add(write)
                self._in_a_row = 0
                self.write_out()
        return fault

    def keep(self, write: Callable[[], object]) -> bool:
        """Keep something else of this trial; whether it is on disk already, or waits for the casebook."""
        self._unkept.add(write)
        self._write_if_free()
        return not self._unkept.waiting

    def leave(self) -> None:
        """Stop in the middle of a trial, in a fixed time; what was heard is kept, and the trial comes back as it is."""
        with self._times.lasting(ANSWERED_S):
            self._player.stop()
            self.poll()

    def write_out(self) -> None:
        """Write all that is held; when this returns it is on disk.

        Raises
        ------
        CasebookBusy
            If the casebook is in use; everything is still held.
        """
        self._unkept.flush()
        if self._exposed:
            casebook, listener_id = self.session.casebook, self.session.record.listener_id
            self._warning = exposure.dose(casebook, listener_id).warning
            self._exposed = False

    @property
    def waiting(self) -> str:
        """For what is waited because the casebook cannot be written; empty where nothing is held."""
        return self._unkept.waiting

    def now(self) -> Now:
        """What may be shown."""
        offered, position = self.current, self._notice()
        passage, end = offered.passage, self._part[1]
        rate_hz = passage.rate_hz
        playing = position.stimulus is not None and position.playing and not self._paused
        return Now(
            trial=offered.trial,
            trials=self.session.plan.slots,
            playing=self.method.stimuli[position.stimulus] if playing and position.stimulus is not None else None,
            passage=passage.name,
            position_s=min(position.frame, end) / rate_hz,
            length_s=passage.frames / rate_hz,
            loop_s=self._loops.part_s(passage),
            paused=self._paused,
            heard=frozenset(self._heard),
            rest_due=self._monotonic() - self._since_rest > PAUSE_AFTER_S,
        )

    @property
    def disturbed(self) -> str:
        """What disturbed the trial that comes again, until something of it is heard; otherwise empty."""
        return self._disturbed

    @property
    def warning(self) -> str:
        """What to say of the noise dose; empty while there is no need, or the level is not known."""
        return self._warning

    def track_ms(self) -> int:
        """Where in the track the music is now."""
        offered, position = self.current, self._player.position()
        start_s = offered.passage.cut_start_frame / offered.passage.cut_rate_hz
        return round(1000 * (start_s + min(position.frame, self._part[1]) / offered.passage.rate_hz))

    @property
    def current(self) -> Offered:
        """The trial on offer."""
        if self._offered is None:
            raise ListenError("no trial is on offer")
        return self._offered

    @property
    def _part(self) -> tuple[int, int]:
        """What is played of the passage; its first frame and the one after its last."""
        return self._loops.part(self.current.passage)

    @property
    def _frame(self) -> int:
        """Where the music is in the passage; in the silence after it, at its end."""
        return min(self._player.position().frame, self._part[1])

    def _looped(self, refused: str = "") -> str:
        if not refused:
            self._player.loop(*self._part)
        return refused

    def _notice(self) -> Position:
        """What sounds now, which has been heard from now on: asked for is not heard, nor is the silence at the end."""
        position = self._player.position()
        if position.playing and position.stimulus is not None and not self._paused and position.frame < self._part[1]:
            self._heard.add(self.method.stimuli[position.stimulus])
        return position

    def _write_if_free(self) -> None:
        if self._unkept.due:
            with suppress(CasebookBusy):
                self.write_out()

    def _keep_exposure(self, offered: Offered, frames: int) -> None:
        level = self._levels_dba.get(offered.passage.id, self._level_dba)
        if level is None or not frames:
            return
        record, heard_s = self.session.record, frames / offered.passage.rate_hz
        self._unkept.add(partial(exposure.keep, self.session.casebook, record.listener_id, record.id, heard_s, level))
        self._exposed = True

    def _fault_counts(self) -> dict[str, int]:
        return asdict(self._player.faults())

    def _passage_sounds(self, passage: PlannedPassage) -> NDArray[np.float32]:
        """Everything that can be heard of a passage, by place: shape (places, frames, channels).

        Read when the passage comes for the first time, or after many others. Which passage comes when says nothing of a
        key.
        """
        plan = self.session.plan
        if not set(plan.sources) <= set(passage.audio):
            raise ListenError(f"passage {passage.name!r} was sealed without prepared audio; it cannot be played")
        sealed = [SealedFile(passage.audio[source], passage.files.get(source)) for source in plan.sources]
        return self._sounds.of(self.session.casebook, passage.name, sealed, plan.match.sheet)
