"""What the application plays with: a player who asks an engine by one shared number and reads shared answers.

It never touches a device or a sample of the output.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace

import numpy as np
from numpy.typing import NDArray

from ..errors import DeviceError
from . import fields as at
from .fields import Wish
from .orders import Answer, Load, Open, Opened
from .playback import Audition, Faults, Position
from .playback_engine import EngineProcess, PlaybackEngine, no_fields

FADE_S = 0.005  # ITU-R BS.1534-3, 5.3 (as cited in public notes): 5 ms raised cosine, no cross-fade
PAUSE_S = 0.5  # the same clause: a looped passage pauses for at least 500 ms
PREROLL_S = 0.5  # the first blocks of a stream can be lost; let them be silence
LATENCY_S = 0.15  # a listener needs no quick response, a clean one
SHORTEST_STALL_S = 0.5


class Player:
    """The real one: PortAudio in a process of its own. A context manager; nothing is opened before the first `load`.

    Parameters
    ----------
    device
        Name of the output; None for the system's default.
    routes
        The device's channels (from 0) of each setup, equally many for all; None: the first channels for everything.
    latency_s, fade_s, pause_s
        Of the stream, of every switch, and between the end of a passage and its next start.
    engine
        Makes a new engine, at the first `load` and whenever the last one was ended.
    """

    def __init__(
        self,
        device: str | None = None,
        *,
        routes: Sequence[Sequence[int]] | None = None,
        latency_s: float = LATENCY_S,
        fade_s: float = FADE_S,
        pause_s: float = PAUSE_S,
        engine: Callable[[], PlaybackEngine] = EngineProcess,
    ) -> None:
        self._wanted = device
        self._length = 0  # of the stimuli, in frames
        self._routes = [list(route) for route in routes] if routes else None
        self._latency_wanted_s = latency_s
        self._fade_s = fade_s
        self._pause_s = pause_s
        self._new_engine = engine
        self._engine: PlaybackEngine | None = None
        self._fields = no_fields()
        self._wish = Wish()
        self._opened: tuple[int, int] | None = None  # rate, channels
        self._past = Faults()
        self._read = 0
        self._unread: list[Audition] = []
        self._progress = (0, 0.0)
        self._latency_s = 0.0

    def __enter__(self) -> Player:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    @property
    def pause_s(self) -> float:
        """Between the end of a passage and its next start."""
        return self._pause_s

    @property
    def latency_s(self) -> float:
        """From request to sound at the device, as PortAudio states it; 0 before the first `load`."""
        return self._latency_s

    def load(self, stimuli: Sequence[NDArray[np.float32]], rate_hz: int, places: Sequence[int] = ()) -> None:
        """Take a trial's stimuli: equally long, float32, shape (frames, channels); one channel is played on all.

        Parameters
        ----------
        places
            Where the player has routes: for each stimulus the place of its setup among them.

        Raises
        ------
        ValueError
            If they differ in shape, or do not fit the routes.
        DeviceError
            If there is no device, it lacks the rate or the channels, or the engine cannot be started again.
        """
        if not stimuli or len({sound.shape for sound in stimuli}) != 1 or stimuli[0].ndim != 2:
            raise ValueError("the stimuli of a trial are equally long and have the same channels")
        bank = np.ascontiguousarray(np.stack(stimuli), dtype=np.float32)
        self._check_routes(len(stimuli), places)
        width = len(self._routes[0]) if self._routes else max(2, bank.shape[2])
        if bank.shape[2] == 1:
            bank = np.repeat(bank, width, axis=2)
        if bank.shape[2] != width:
            raise ValueError(f"stimuli of {bank.shape[2]} channels do not fit routes of {width}")
        channels = 1 + max(max(route) for route in self._routes) if self._routes else width
        self._check_alive()
        if self._engine is None:
            self._engine = self._new_engine()
            self._fields, self._wish, self._read = self._engine.fields, Wish(), 0
            self._fields[at.WISH] = self._wish.packed()
        if self._opened != (rate_hz, channels):
            answer = self._order(Open(self._wanted, rate_hz, channels, self._latency_wanted_s, PREROLL_S))
            assert isinstance(answer, Opened)
            self._latency_s, self._opened = answer.latency_s, (rate_hz, channels)
        self._fall_silent()
        pause, fade = math.ceil(self._pause_s * rate_hz), round(self._fade_s * rate_hz)
        self._fields[at.LOOP] = 0
        self._order(Load(bank.shape, pause, fade, self._routes, list(places)), bank)
        self._length = bank.shape[1]
        self._progress = (int(self._fields[at.BLOCKS]), time.monotonic())

    def play(self, index: int) -> None:
        """Sound a stimulus, or switch to it at the same place in the music; every call fades the same way."""
        self._ask(replace(self._wish, stimulus=index, paused=False))

    def play_from(self, index: int, frame: int) -> None:
        """Sound a stimulus from a frame of the passage."""
        self._fields[at.START] = frame
        self._ask(replace(self._wish, stimulus=index, paused=False, restarts=self._wish.restarts + 1))

    def play_through(self, index: int) -> None:
        """Sound a stimulus once from its start and return in silence, when it has left the buffers.

        Raises
        ------
        DeviceError
            If the device stops in the middle of it.
        """
        self.play_from(index, 0)
        length = self._length
        while self._engine is not None and self.position().frame < length:
            time.sleep(0.005)
        if self._engine is None:
            raise DeviceError("the device stopped while it played; is it still connected?")
        self._fall_silent()
        time.sleep(self.latency_s)

    def restart(self) -> None:
        """Go back to the start of the passage, or of the loop in it, through the same fade as a switch."""
        self._fields[at.START] = at.unpacked_loop(int(self._fields[at.LOOP]))[0]
        self._ask(replace(self._wish, paused=False, restarts=self._wish.restarts + 1))

    def pause(self) -> None:
        """Fade out and hold the place."""
        self._ask(replace(self._wish, paused=True))

    def resume(self) -> None:
        """Fade in at the place held."""
        self._ask(replace(self._wish, paused=False))

    def loop(self, start: int, end: int) -> None:
        """Keep to a part of the passage from now on, through the same fade as a switch; `load` ends that.

        The music goes on where it is, or at the part's start if it is elsewhere.

        Parameters
        ----------
        start, end
            The part's first frame and the one after its last; 0 and the passage's frames for all of it.

        Raises
        ------
        ValueError
            If that is no part of the passage.
        """
        if not 0 <= start < end <= self._length:
            raise ValueError(f"a loop lies in the passage's {self._length} frames; got {start} to {end}")
        self._fields[at.LOOP] = at.packed_loop(start, end)
        self._ask(self._wish)

    def stop(self) -> None:
        """Fade out and go back to the start; returns in silence, when the last audition is there."""
        self._fall_silent()

    def position(self) -> Position:
        """What sounds now."""
        self._check_alive()
        stimulus = int(self._fields[at.STIMULUS])
        running = bool(self._fields[at.SOUNDING])
        return Position(stimulus if running and stimulus >= 0 else None, int(self._fields[at.POSITION]), running)

    def faults(self) -> Faults:
        """The faults so far; an engine that died or stands still is counted, and stopped, here."""
        self._check_alive()
        return self._sum()

    def auditions(self) -> list[Audition]:
        """What was heard since the last call."""
        self._collect()
        heard, self._unread = self._unread, []
        return heard

    def busy(self) -> dict[str, int]:
        """Blocks rendered, nanoseconds spent in them, the worst block's nanoseconds; for benchmarks."""
        names = {"blocks": at.BLOCKS, "busy_ns": at.BUSY_NS, "worst_ns": at.WORST_NS, "frames": at.FRAMES}
        return {name: int(self._fields[place]) for name, place in names.items()}

    def close(self) -> None:
        """End the engine; what sounds is cut to silence."""
        if self._engine is not None:
            self._fall_silent()
            self._end()

    def trouble(self) -> str:
        """Nothing: there is no outside switch."""
        return ""

    def stamp(self) -> tuple[int, int]:
        """Frames that the device took before its last block, and when that block began (monotonic nanoseconds)."""
        for _ in range(1000):  # the two are written one after the other
            frames, moment = int(self._fields[at.STAMP_FRAMES]), int(self._fields[at.STAMP_NS])
            if 0 <= frames == int(self._fields[at.STAMP_FRAMES]):
                return frames, moment
        return 0, 0

    def wait_silent(self, seconds: float) -> bool:
        """Whether the last request was taken and nothing sounds any more, within the time given."""
        give_up = time.monotonic() + seconds
        while time.monotonic() < give_up:
            if self._fields[at.SEEN] == self._wish.serial & 0x3FFFFFFF and not self._fields[at.SOUNDING]:
                return True
            time.sleep(0.002)
        return False

    def _check_routes(self, stimuli: int, places: Sequence[int]) -> None:
        if self._routes is None:
            return
        if len({len(route) for route in self._routes}) != 1:
            raise ValueError("the routes of setups that are compared have equally many channels")
        if len(places) != stimuli or not all(0 <= place < len(self._routes) for place in places):
            raise ValueError(f"{stimuli} stimuli need a place each among {len(self._routes)} routes; got {places}")

    def _ask(self, wish: Wish) -> None:
        self._wish = replace(wish, serial=self._wish.serial + 1)
        self._fields[at.WISH] = self._wish.packed()

    def _order(self, order: Open | Load, stimuli: NDArray[np.float32] | None = None) -> Answer:
        """Give an order and wait for its answer; an engine that fails at one is ended."""
        assert self._engine is not None
        try:
            return self._engine.obey(order, stimuli)
        except DeviceError:
            self._end()
            raise

    def _fall_silent(self) -> None:
        """Stop, and wait until the fade is over (or the engine has stopped)."""
        self._ask(replace(self._wish, stimulus=-1, paused=False))
        give_up = time.monotonic() + 2 * SHORTEST_STALL_S + self._latency_wanted_s
        while self._engine is not None and time.monotonic() < give_up:
            done = self._fields[at.SEEN] == self._wish.serial & 0x3FFFFFFF
            if done and not self._fields[at.SOUNDING]:
                break
            if not self._engine.alive:
                break
            time.sleep(0.002)

    def _check_alive(self) -> None:
        """Count and end an engine that died or whose blocks stand still."""
        if self._engine is None or self._opened is None:
            return
        blocks, now = int(self._fields[at.BLOCKS]), time.monotonic()
        if self._engine.alive:
            if blocks != self._progress[0]:
                self._progress = (blocks, now)
            if now - self._progress[1] <= max(SHORTEST_STALL_S, 3 * self.latency_s):
                return
        self._past = replace(self._past, stalls=self._past.stalls + 1)
        self._end()

    def _sum(self) -> Faults:
        now = Faults(
            underruns=int(self._fields[at.UNDERRUNS]),
            overruns=int(self._fields[at.OVERRUNS]),
            callback_errors=int(self._fields[at.CALLBACK_ERRORS]),
        )
        return Faults(**{name: count + asdict(now)[name] for name, count in asdict(self._past).items()})

    def _collect(self) -> None:
        count = int(self._fields[at.AUDITIONS])
        for number in range(max(self._read, count - at.RING_PLACES), count):
            place = at.RING + (number % at.RING_PLACES) * at.RING_WIDTH
            self._unread.append(Audition(*(int(value) for value in self._fields[place : place + at.RING_WIDTH])))
        self._read = count

    def _end(self) -> None:
        """Kill the engine, keeping its counts and what it heard."""
        self._collect()
        self._past = self._sum()
        engine, self._engine, self._opened = self._engine, None, None
        self._fields = no_fields()
        self._read = 0
        if engine is not None:
            engine.end()
