"""Free, sighted listening: setups at a player, switched as in a trial, with words at the moment they are said.

Nothing of it counts, and nothing is hidden. What was heard of which setup, and what was said where, goes on record.
It draws no screen.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from functools import partial
from typing import TYPE_CHECKING

from ..casebook import free_rows
from ..errors import CasebookBusy, ListenError
from ..words import log
from . import exposure
from .free_session import FreeSession
from .free_sounds import FreeSounds, Stretch
from .passage_loops import PassageLoops
from .write_queue import WriteQueue

if TYPE_CHECKING:
    from audio.engine.playback import Playback


@dataclass(frozen=True)
class Moment:
    """A moment of the music: which setup sounds (its place among them), and where in the track, in milliseconds."""

    setup: int
    track_ms: int


@dataclass(frozen=True)
class SaidFreely:
    """A word of this evening, by its row: how strong it is, of which setup, and where in the track."""

    id: str
    term: str
    strength: int
    moment: Moment


@dataclass(frozen=True)
class Shown:
    """What a screen shows; times are of the track, in seconds. `loop` is None without one."""

    playing: int | None
    wanted: int | None
    position_s: float
    start_s: float
    end_s: float
    paused: bool
    loop: tuple[float, float] | None


class FreeListening:
    """A free session at a player. `load` brings a stretch, `hear` plays and switches, `keep_word` keeps.

    Parameters
    ----------
    level_dba
        The level at the ears as the listener's meter reads it, where no match sheet knows it.
    """

    def __init__(
        self,
        session: FreeSession,
        player: Playback,
        *,
        level_dba: float | None = None,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        self.session = session
        self._player = player
        self._level_dba = level_dba
        self._loaded: FreeSounds | None = None
        self._loops = PassageLoops()
        self._wanted: int | None = None
        self._paused = False
        self._faults: dict[str, int] = {}
        self._lost = False  # the playback engine ended
        self._warning = ""
        self._unkept = WriteQueue(session.casebook, monotonic)
        self._said: list[SaidFreely] = []  # the words of this evening in force

    @property
    def loaded(self) -> FreeSounds:
        """What is at the player."""
        if self._loaded is None:
            raise ListenError("nothing is loaded to listen to")
        return self._loaded

    def load(self, sounds: FreeSounds) -> None:
        """Bring a stretch to the player, silent and at its start, with the loop that was set in it.

        Raises
        ------
        DeviceError
            If it cannot be played.
        """
        if self._loaded is not None:
            self._player.stop()
            self.poll()
        self._loaded = sounds
        self._bring()
        self._wanted, self._paused = None, False

    def hear(self, setup: int) -> None:
        """Play a setup, or switch to it at the same place in the music.

        Raises
        ------
        DeviceError
            If the device was lost, and is not back.
        """
        if self._lost:
            self._bring()
        self._player.play(setup)
        self._wanted, self._paused = setup, False

    def restart(self) -> None:
        """Go back to the start of what plays."""
        self._player.restart()
        self._paused = False

    def pause(self) -> None:
        """Fade out and hold the place, or go on from it."""
        if self._paused:
            self._player.resume()
        else:
            self._player.pause()
        self._paused = not self._paused

    def seek(self, by_s: float) -> None:
        """Go on some seconds later or earlier in the music, as far as it goes."""
        if self._wanted is None:
            return
        first, end = self._loops.part(self.loaded)
        frame = self._player.position().frame + round(by_s * self.loaded.rate_hz)
        self._player.play_from(self._wanted, min(max(frame, first), end - 1))
        self._paused = False

    def go_to(self, moment: Moment) -> None:
        """Play a moment of the stretch, on its setup; a loop is left.

        Raises
        ------
        DeviceError
            If the device was lost, and is not back.
        """
        frame = round((moment.track_ms / 1000 - self.loaded.stretch.start_s) * self.loaded.rate_hz)
        if self._lost:
            self._bring()
        if self._loops.part_s(self.loaded) is not None:
            self.no_loop()
        self._player.play_from(moment.setup, min(max(frame, 0), self.loaded.frames - 1))
        self._wanted, self._paused = moment.setup, False

    def loop_from_here(self) -> str:
        """Let the loop in this stretch begin where the music is; why it cannot, or nothing."""
        return self._looped(self._loops.begin(self.loaded, self._frame))

    def loop_to_here(self) -> str:
        """Let the loop in this stretch end where the music is; why it cannot, or nothing."""
        return self._looped(self._loops.end(self.loaded, self._frame))

    def no_loop(self) -> None:
        """Play the whole stretch again, from where the music is."""
        self._loops.clear(self.loaded)
        self._looped()

    def moment(self) -> Moment | None:
        """The moment of the music that sounds now; None in silence."""
        now = self._player.position()
        if now.stimulus is None or not now.playing or self._paused:
            return None
        return Moment(now.stimulus, self._track_ms(min(now.frame, self._loops.part(self.loaded)[1])))

    def keep_word(self, term: str, strength: int, said_at: Moment, note: str = "", of: Stretch | None = None) -> bool:
        """Keep a word, sighted, of what sounded at a moment; whether it is on disk already.

        Parameters
        ----------
        of
            The stretch that was heard, of a word that may come late or twice: another stretch may be loaded by now, and
            what the log has already, said of the same at the same moment, is not kept again.

        Raises
        ------
        CatalogueError
            If it cannot be a word.
        CasebookBusy
            If such a word comes while the log cannot be asked.
        """
        stretch, session = of or self.loaded.stretch, self.session
        said = log.Word(
            term,
            strength,
            said_at.track_ms,
            note=note,
            setup_id=session.setups[said_at.setup].id,
            track_id=stretch.track.id,
        )
        row = log.new_word(session.listener, said)
        if of is not None and log.is_there(session.casebook, row):
            return True
        self._keep(partial(session.casebook.append_many, [row, log.place_of(row, session.id, stretch.name)]))
        self._said.append(SaidFreely(row.id, row.content["term"], strength, said_at))
        return not self._unkept.waiting

    @property
    def said(self) -> tuple[SaidFreely, ...]:
        """The words of this evening in force."""
        return tuple(self._said)

    def take_back(self, word_id: str | None = None) -> bool:
        """Take a word of this evening back (None: the last), which stays on record; whether that is on disk already.

        Raises
        ------
        ListenError
            If there is none.
        """
        found = [one for one in self._said if word_id in (None, one.id)]
        if not found:
            raise ListenError("nothing to take back: no word of this evening is kept")
        self._said.remove(found[-1])
        row = log.new_taking_back(self.session.listener, found[-1].id, found[-1].strength)
        self._keep(partial(self.session.casebook.append_many, [row]))
        return not self._unkept.waiting

    def poll(self) -> str:
        """Keep what was heard since the last call; a sentence where the sound was disturbed, otherwise nothing."""
        loaded, session = self.loaded, self.session
        heard = [event for event in self._player.auditions() if event.to_frame > event.from_frame]
        for event in heard:
            row = free_rows.new_audition(
                session.id,
                session.setups[event.stimulus].id,
                loaded.stretch.track.id,
                loaded.stretch.name,
                self._track_ms(event.from_frame),
                self._track_ms(event.to_frame),
            )
            self._unkept.add(partial(session.casebook.append_many, [row]))
        level, frames = loaded.chair_dba, sum(event.to_frame - event.from_frame for event in heard)
        level = self._level_dba if level is None else level
        if level is not None and frames:
            heard_s = frames / loaded.rate_hz
            self._unkept.add(partial(exposure.keep, session.casebook, session.listener.id, session.id, heard_s, level))
            self._unkept.add(self._weigh)
        self._write_if_free()
        counts = asdict(self._player.faults())
        risen = [kind.replace("_", " ") for kind, count in counts.items() if count > self._faults.get(kind, 0)]
        self._faults = counts
        if "stalls" in risen:
            self._lost, self._wanted = True, None
        return f"The sound was disturbed ({', '.join(risen)}); play on with a setup's key." if risen else ""

    def leave(self) -> None:
        """Fall silent and keep what was heard.

        Raises
        ------
        CasebookBusy
            If the casebook is in use; everything is still held, and this may be called again.
        """
        self._player.stop()
        if self._loaded is not None:
            self.poll()
        self._unkept.flush()

    @property
    def waiting(self) -> str:
        """For what is waited because the casebook cannot be written; empty where nothing is held."""
        return self._unkept.waiting

    @property
    def warning(self) -> str:
        """What to say of the noise dose; empty while there is no need, or the level is not known."""
        return self._warning

    def now(self) -> Shown:
        """What a screen shows."""
        stretch, position = self.loaded.stretch, self._player.position()
        sounds = position.playing and not self._paused
        loop = None
        if self._loops.part_s(self.loaded) is not None:
            begin, end = self._loops.part(self.loaded)
            loop = (self._track_s(begin), self._track_s(end))
        return Shown(
            playing=position.stimulus if sounds else None,
            wanted=self._wanted,
            position_s=self._track_s(self._frame),
            start_s=stretch.start_s,
            end_s=stretch.start_s + stretch.length_s,
            paused=self._paused,
            loop=loop,
        )

    @property
    def _frame(self) -> int:
        """Where the music is in the stretch; in the silence after it, or after its loop, at that end."""
        return min(self._player.position().frame, self._loops.part(self.loaded)[1])

    def _bring(self) -> None:
        self._player.load(list(self.loaded.sounds), self.loaded.rate_hz, range(len(self.session.setups)))
        if self._loops.part_s(self.loaded) is not None:
            self._player.loop(*self._loops.part(self.loaded))
        self._player.auditions()
        self._lost = False
        self._faults = asdict(self._player.faults())

    def _looped(self, refused: str = "") -> str:
        if not refused:
            self._player.loop(*self._loops.part(self.loaded))
        return refused

    def _track_s(self, frame: int) -> float:
        """The time in the track of a frame of the stretch."""
        return self.loaded.stretch.start_s + frame / self.loaded.rate_hz

    def _track_ms(self, frame: int) -> int:
        """The same in milliseconds."""
        return round(1000 * self._track_s(frame))

    def _weigh(self) -> None:
        self._warning = exposure.dose(self.session.casebook, self.session.listener.id).warning

    def _keep(self, write: Callable[[], object]) -> None:
        self._unkept.add(write)
        self._write_if_free()

    def _write_if_free(self) -> None:
        if self._unkept.due:
            with suppress(CasebookBusy):
                self._unkept.flush()
