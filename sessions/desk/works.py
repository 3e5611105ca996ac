"""Long work started from the desk: one at a time, in a process of its own, with its newest line kept for whoever asks.

A process of its own, so that pages answer meanwhile and music plays on, and so that it can be stopped at any instant:
what it keeps it keeps whole, or not at all.
"""

from __future__ import annotations

import _thread
import contextlib
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Literal, Protocol

from audio.errors import AudioError
from stats.errors import StatsError

from ..casebook import system_faults
from ..errors import ListenError, SessionsError
from .field_labels import spoken

GENTLY = 10  # of nice: whoever listens or asks for a page comes first
ENDED_FROM_OUTSIDE = "it was ended from outside (out of memory?); close other programs and start it again"
LEAVES_WITHIN_S = 10.0
ENDING = "what was stopped is still being left; try again in a moment"
STOPPED = "stopped; what was not finished is not kept"
BUSY = "{} is being done; wait until it is over, or stop it"

FIRST = "/desk"
"""The page that says what is up now."""

Tell = Callable[[str], None]


@dataclass(frozen=True)
class Outcome:
    """What came of some work: sentences, and the page where it is to be seen."""

    lines: tuple[str, ...] = ()
    go: str = ""


@dataclass(frozen=True)
class Failure:
    """Why some work failed, in one sentence."""

    why: str


class OtherWork(ListenError):
    """Some work is under way, or is still being left."""


Told = str | Failure | Outcome
"""A step of some work, or its end."""


class Job(Protocol):
    """Some long work: plain data that another process is given."""

    @property
    def title(self) -> str:
        """What it is, as a sentence begins: «Matching levels»."""

    @property
    def place(self) -> str:
        """The page of the desk where it belongs."""

    def run(self, folder: Path, tell: Tell) -> Outcome:
        """Do it in a casebook's folder; each step is told."""


@dataclass(frozen=True)
class Work:
    """Some work as the desk shows it: `line` is its newest step, or in one sentence why it failed.

    `place` is the page where it belongs, and where it is shown once it has ended.
    """

    number: int
    title: str
    place: str
    state: Literal["runs", "done", "failed", "stopped"]
    line: str = ""
    lines: tuple[str, ...] = ()
    go: str = ""
    seconds: int = 0


def shown_at(work: Work | None, place: str, watched: int) -> Work | None:
    """The work as far as a page shows it: under way on each; ended where it belongs, and where it was watched.

    Parameters
    ----------
    watched
        The number of the work that the page saw under way; 0 for none.
    """
    if work is None or work.state == "runs" or work.number == watched:
        return work
    return work if place in ("", FIRST, work.place) else None


class Works:
    """The one worker of a casebook's desk. Safe to be used from several threads."""

    def __init__(self, folder: Path, *, apart: bool = True) -> None:
        self._folder = folder
        self._apart = apart  # else in a thread of this process, as tests may wish
        self._lock = threading.Lock()
        self._work: Work | None = None
        self._away = 0  # the number of the work that was put away
        self._since = 0.0
        self._process: multiprocessing.process.BaseProcess | None = None
        self._let_go: Callable[[], None] | None = None
        self._thread: threading.Thread | None = None

    def start(self, job: Job) -> Work:
        """Begin some work.

        Raises
        ------
        OtherWork
            If some is under way.
        """
        with self._lock:
            if self._work is not None and self._work.state == "runs":
                raise OtherWork(BUSY.format(self._work.title))
            if self._work is not None and self._work.state == "stopped" and self._process is not None:
                raise OtherWork(ENDING)
            number = 1 if self._work is None else self._work.number + 1
            self._work, self._since = Work(number, job.title, job.place, "runs", "It begins …"), time.monotonic()
            self._thread = threading.Thread(target=self._watch, args=(number, job), name="long work", daemon=True)
            self._thread.start()
            return self._work

    def now(self) -> Work | None:
        """The work under way, or the one before; None before there was any, and once it was put away."""
        with self._lock:
            if self._work is not None and self._work.number == self._away:
                return None
            if self._work is None or self._work.state != "runs":
                return self._work
            return replace(self._work, seconds=int(time.monotonic() - self._since))

    def put_away(self, number: int) -> None:
        """Show work that has ended no more; nothing, where it is another one, or still under way."""
        with self._lock:
            if self._work is not None and self._work.number == number and self._work.state != "runs":
                self._away = number

    def stop(self) -> None:
        """End what is under way, as soon as its step on hand can be left; of what was not finished nothing is kept."""
        with self._lock:
            if self._let_go is not None and self._work is not None and self._work.state == "runs":
                self._work = replace(self._work, state="stopped", line=STOPPED)
                self._let_go()
                self._let_go = None

    def wait(self) -> None:
        """Until nothing is under way."""
        if self._thread is not None:
            self._thread.join()

    def close(self) -> None:
        """Stop, and wait until it is stopped; one that does not leave is ended."""
        self.stop()
        if self._thread is not None:
            self._thread.join(LEAVES_WITHIN_S)
        with self._lock:
            if self._process is not None:
                self._process.kill()
        self.wait()

    # -- the thread that watches ---------------------------------------------------------------------------------------
    def _watch(self, number: int, job: Job) -> None:
        take = partial(self._take, number)
        if not self._apart:
            _worked(self._folder, job, take)
            return
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe(duplex=False)
        collar, leash = context.Pipe(duplex=False)
        process = context.Process(target=_apart, args=(theirs, collar, self._folder, job), name="earwitness long work")
        process.start()
        with self._lock:
            self._process, self._let_go = process, leash.close
        theirs.close()
        collar.close()
        try:
            while True:
                take(ours.recv())
        except EOFError:
            process.join()
        finally:
            ours.close()
            with self._lock:
                leash.close()
                if self._process is process:
                    self._process = self._let_go = None
        take(Failure(ENDED_FROM_OUTSIDE))  # says nothing where it has ended already

    def _take(self, number: int, told: Told) -> None:
        """Note a step of some work, or its end."""
        with self._lock:
            if self._work is None or self._work.number != number or self._work.state != "runs":
                return
            self._work = replace(self._work, seconds=int(time.monotonic() - self._since))
            if isinstance(told, str):
                self._work = replace(self._work, line=told)
            elif isinstance(told, Outcome):
                self._work = replace(self._work, state="done", line="Done.", lines=told.lines, go=told.go)
            else:
                self._work = replace(self._work, state="failed", line=told.why)


def _worked(folder: Path, job: Job, tell: Callable[[Told], None]) -> None:
    try:
        tell(job.run(folder, tell))
    except (SessionsError, AudioError, StatsError) as error:
        tell(Failure(spoken(str(error))))
    except OSError as error:
        tell(Failure(system_faults.told(error)))
    except Exception as error:
        tell(Failure(f"a fault of this program: {type(error).__name__}: {error}"))
        raise


def _apart(end: Connection, collar: Connection, folder: Path, job: Job) -> None:
    """The other process. Ctrl-C is for the pages, which then stop it; whoever began it may also be gone all at once."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _leave)
    if sys.platform != "win32":
        os.nice(GENTLY)
    threading.Thread(target=_held, args=(collar,), daemon=True).start()
    with end:
        _worked(folder, job, end.send)


def _held(collar: Connection) -> None:
    """Wait until nobody holds the other end; then the work on hand is left as an error would leave it.

    So what it has begun goes away and the processes that help it are let go, on every system, also where the program
    that began it was killed.
    """
    with contextlib.suppress(EOFError, OSError):
        collar.recv()
    if sys.platform == "win32":
        _thread.interrupt_main(signal.SIGTERM)
    else:  # a real signal, which also ends a wait
        signal.pthread_kill(threading.main_thread().ident or 0, signal.SIGTERM)


def _leave(*_: object) -> None:
    raise SystemExit(1)
