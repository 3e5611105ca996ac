"""Work done side by side, where a copy of this process can be had for nothing: on Linux, by a fork.

A first copy loads what the work needs, and is copied again, so that it is loaded once and never here. This process is
copied as it stands, and only while it has no second thread of its own; a copy touches neither the casebook nor a
device, gives back what it made, and is gone. Elsewhere, and where a copy fails, the work is done here.
"""

from __future__ import annotations

import functools
import gc
import os
import pickle
import signal
import struct
import sys
import threading
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Generic, TypeVar

from audio import parallel

Made = TypeVar("Made")

TURN = struct.Struct("=QQQ")  # which thing, where it begins, and how long it is
MOST = 2000  # things whose turns fit into a pipe before anybody takes one
MOST_PROCESSES = 8  # a copy takes some milliseconds to make, one after the other


class SideBySide(Generic[Made]):
    """Things that copies work on as they are given, while this process goes on; whoever is free takes the next."""

    def __init__(self, work: Callable[[bytes], Made], load: Callable[[], object], processors: int) -> None:
        self._work, self._load, self._processors = work, load, processors
        self._given: list[bytes] = []
        self._copies: _Copies[Made] | None = None

    def begin(self) -> None:
        """Make the copies now, so that they load what the work needs; otherwise the first thing given makes them."""
        if self._copies is None and self._processors > 1 and _can_be_copied():
            self._copies = _Copies(self._work, self._load, self._processors)

    def give(self, thing: bytes) -> None:
        """One more thing to be worked on."""
        self.begin()
        if self._copies is not None and len(self._given) < MOST:
            self._copies.put(len(self._given), thing)
        self._given.append(thing)

    def made(self) -> list[Made]:
        """What each thing came to, in their order. Asked for once, when this process has nothing else to do."""
        found = self._copies.made() if self._copies is not None and self._given else {}
        return [found[turn] if turn in found else self._work(thing) for turn, thing in enumerate(self._given)]

    def end(self) -> None:
        """Let go of the copies: after an interruption, or where nobody asked for their work, they are ended."""
        if self._copies is not None:
            self._copies.end()


@contextmanager
def begun(
    work: Callable[[bytes], Made], load: Callable[[], object], processors: int | None = None
) -> Iterator[SideBySide[Made]]:
    """Work on things side by side; a copy that still works when the context ends is ended.

    Parameters
    ----------
    work
        What is made of a thing: it raises nothing and neither reads nor writes the casebook; it makes plain data.
    load
        Loads what the work needs.
    processors
        Processes that work at once, this one among them as long as it has something else to do; None: as many as
        there are processors, up to `MOST_PROCESSES`.
    """
    shared = SideBySide(work, load, processors or min(parallel.cores(), MOST_PROCESSES))
    try:
        yield shared
    finally:
        shared.end()


def _can_be_copied() -> bool:
    return sys.platform == "linux" and threading.active_count() == 1


class _Copies(Generic[Made]):
    """As many copies as there are processors: the last begins when this process has nothing else to do.

    Things wait in memory that all see, and turns in a pipe, each taken by one copy alone.
    """

    def __init__(self, work: Callable[[bytes], Made], load: Callable[[], object], processors: int) -> None:
        self._work, self._load = work, load
        self._things, self._length = _memory(), 0
        self._turns, self._put = os.pipe()
        self._idle, self._busy = os.pipe()  # the one ends when the other is closed
        self._results = [os.pipe() for _ in range(processors)]
        gc.freeze()  # what is there already is left where it is, in the copies too: memory that is touched is copied
        self._first = _copy(self._first_copy)
        _lead(self._first)  # whoever comes first: here, and there
        for _, written in self._results:
            os.close(written)

    def put(self, turn: int, thing: bytes) -> None:
        length = 0
        while length < len(thing):
            length += os.write(self._things, thing[length:])
        os.write(self._put, TURN.pack(turn, self._length, length))
        self._length += length

    def made(self) -> dict[int, Made]:
        """What copies made of the things, by their turns; nothing of a copy that did not come to its end."""
        self._close_here()
        found: dict[int, Made] = {}
        while self._results:
            with os.fdopen(self._results.pop()[0], "rb") as read:
                made = read.read()
            try:
                found |= pickle.loads(made)
            except (EOFError, pickle.UnpicklingError):
                continue
        os.waitpid(self._first, 0)
        self._first = 0
        return found

    def end(self) -> None:
        if sys.platform == "win32":
            return
        gc.unfreeze()
        if self._first:
            os.killpg(self._first, signal.SIGKILL)  # all of them, while it is there: until it is waited for
            os.waitpid(self._first, 0)
        self._close_here()
        for one in (self._things, self._turns, self._idle, *(read for read, _ in self._results)):
            os.close(one)

    def _close_here(self) -> None:
        """Nothing more is put in, and this process has nothing else to do."""
        for one in filter(lambda end: end >= 0, (self._put, self._busy)):
            os.close(one)
        self._put = self._busy = -1

    def _first_copy(self) -> None:
        if sys.platform == "win32":
            return
        _lead(os.getpid())
        self._close_here()
        self._load()
        others = [_copy(functools.partial(self._take, one)) for one in range(1, len(self._results))]
        self._take(0)
        for one in others:
            os.waitpid(one, 0)

    def _take(self, own: int) -> None:
        """One piece of work after the other, until none is left; what all came to is given back at the end."""
        for copy, (_, written) in enumerate(self._results):
            if copy != own:
                os.close(written)
        if own == len(self._results) - 1:
            os.read(self._idle, 1)  # nothing is ever written: until it ends
        with os.fdopen(self._results[own][1], "wb") as out:
            pickle.dump(dict(self._worked()), out)

    def _worked(self) -> Iterator[tuple[int, Made]]:
        if sys.platform == "win32":
            return
        while taken := os.read(self._turns, TURN.size):
            turn, start, length = TURN.unpack(taken)
            yield turn, self._work(os.pread(self._things, length, start))


def _memory() -> int:
    """Memory that this process and its copies share, as a file."""
    if sys.platform != "linux":
        raise NotImplementedError("there is no memory that is a file")
    return os.memfd_create("things")


def _lead(process: int) -> None:
    """Let it lead a group of its own, in which its copies are."""
    if sys.platform != "win32":
        os.setpgid(process, process)


def _copy(work: Callable[[], object]) -> int:
    """A copy of this process that does the work and ends."""
    if sys.platform == "win32":
        raise NotImplementedError("there is no fork")
    with warnings.catch_warnings():
        warnings.simplefilter(
            "ignore", DeprecationWarning
        )  # arithmetic libraries have threads, and end them for a fork
        process = os.fork()
    if process:
        return process
    gc.disable()  # it is gone soon
    try:
        work()
    except BaseException:
        os._exit(1)  # whatever it was, the work is done again by who asked for it
    os._exit(0)  # closes nothing of what was copied, and writes no half-written line a second time
