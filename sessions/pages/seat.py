"""A chair in a thread of its own: player, casebook and session belong to it; pages ask it and read what it shows."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import AbstractContextManager
from typing import Any, TypeVar

from audio.errors import AudioError

from ..chair import for_listeners
from ..chair.asked import Asked
from ..chair.given import Pressed
from ..chair.sitting import Sitting
from ..chair.view import View
from ..errors import CasebookBusy, CasebookFull, ListenError, SessionsError

TICK_S = 0.05
TICK_TOLD_S = 0.25  # where the page tells by itself what has changed
AWAY_S = 20.0  # a page that was not heard of for so long: the music pauses
FULL = "the host's disk is full; what you answered is kept: sit down again once there is space"
OVER = "this chair is empty; sit down again"

T = TypeVar("T")


class Seat:
    """A chair that is opened, asked and left in one thread."""

    def __init__(
        self,
        open_chair: Callable[[], AbstractContextManager[Sitting]],
        left: Callable[[Seat], None] = lambda seat: None,
        monotonic: Callable[[], float] = time.monotonic,
        tell: Callable[[str], None] = lambda sentence: None,
    ) -> None:
        self._open = open_chair
        self._left = left
        self._monotonic = monotonic
        self._tell = tell  # the host of what goes wrong, in whole
        self._inbox: queue.SimpleQueue[tuple[Callable[[Sitting], Any], Future[Any]] | None] = queue.SimpleQueue()
        self._door = threading.Lock()  # nobody asks a chair that has just been left
        self._thread = threading.Thread(target=self._run, name="chair", daemon=True)
        self.opened: Future[None] = Future()
        self.asked: Asked | None = None
        self.view: View | None = None
        self.failed = ""  # why the chair was left, as its listener is told
        self.trouble = ""  # what goes wrong now, or did when it was left, in whole: for the host
        self.seen = monotonic()
        self.over = False

    def start(self) -> None:
        """Open the chair; `opened` says when it is, or why it cannot, as its listener is told."""
        self._thread.start()

    def ask(self, action: Callable[[Sitting], T]) -> Future[T]:
        """Have something done in the chair's thread."""
        done: Future[T] = Future()
        with self._door:
            if self.over:
                done.set_exception(ListenError(OVER))
            else:
                self._inbox.put((action, done))
        return done

    def close(self) -> None:
        """Leave the chair, and wait until it is left."""
        self._inbox.put(None)
        self._thread.join()

    # -- the thread --------------------------------------------------------------------------------------------------
    def _run(self) -> None:
        try:
            with self._open() as chair:
                self.asked, self.view = chair.asked, chair.view()
                self.opened.set_result(None)
                self._work(chair)
        except (SessionsError, AudioError) as error:
            self._fail(error)
        except BaseException as error:
            self._fail(error)
            raise
        finally:
            with self._door:
                self.over = True
                self._turn_away()
            self._left(self)

    def _work(self, chair: Sitting) -> None:
        while chair.asking not in ("end", "stopped"):
            if not self._take(chair):
                chair.press(Pressed("", "stop"))
            seen = self.view
            if chair.asking == "hear" and seen is not None and seen.playing and self._monotonic() - self.seen > AWAY_S:
                chair.press(Pressed(chair.trial_id, "pause"))
            chair.tick()
            self.view = chair.view()
            self._in_trouble(chair.trouble, for_listeners.plain(chair.trouble))

    def _take(self, chair: Sitting) -> bool:
        """Do what is asked next, if anything is; False where the chair is to be left."""
        try:
            asked = self._inbox.get(timeout=_tick_s(chair))
        except queue.Empty:
            return True
        if asked is None:
            return False
        action, done = asked
        try:
            found = action(chair)
            self.view = chair.view()  # whoever asks next finds nothing older than this
            done.set_result(found)
        except (SessionsError, AudioError) as error:
            done.set_exception(error)
        except BaseException as error:
            done.set_exception(error)
            raise
        return True

    def _fail(self, error: BaseException) -> None:
        self.failed = FULL if isinstance(error, CasebookFull) else for_listeners.told(error)
        self._in_trouble(str(error) or type(error).__name__, self.failed)
        if not self.opened.done():
            busy = isinstance(error, CasebookBusy)  # it may be asked again
            self.opened.set_exception(error if busy else ListenError(self.failed))

    def _in_trouble(self, trouble: str, shown: str) -> None:
        """Tell the host, where the listener is shown something else."""
        if trouble not in ("", shown, self.trouble):
            self._tell(trouble)
        self.trouble = trouble

    def _turn_away(self) -> None:
        while True:
            try:
                asked = self._inbox.get_nowait()
            except queue.Empty:
                return
            if asked is not None:
                asked[1].set_exception(ListenError(OVER))


def _tick_s(chair: Sitting) -> float:
    """How long a chair may be left to itself, in seconds."""
    if chair.asking == "coming":
        return 0.0
    return TICK_S if chair.browser is None else TICK_TOLD_S
