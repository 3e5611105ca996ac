"""Work on many things at once, each in a process of its own. It knows nothing of sound.

Python runs one thread of its own at a time, and a library's threads would divide the same work again; so each process
keeps its matrix arithmetic to itself. Processes are started afresh on every system (never forked: a fork would copy
what audio devices and libraries hold).
"""

from __future__ import annotations

import contextlib
import functools
import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import Protocol, TypeVar

from .errors import ProcessError

# What tells the libraries below numpy how many threads to take (OpenBLAS, MKL, OpenMP, Apple's Accelerate).
THREADS = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")

Thing = TypeVar("Thing")
Result = TypeVar("Result")


class Submit(Protocol):
    """Begins some work on a thing; what it gives back waits for it, and gives what came of it or raises what it did."""

    def __call__(self, work: Callable[[Thing], Result], thing: Thing, /) -> Callable[[], Result]:
        """`work` is a function of a module; things and what comes of them are plain data, arrays, paths."""


def each(work: Callable[[Thing], Result], things: Sequence[Thing], *, most: int | None = None) -> Iterator[Result]:
    """What `work` makes of each thing, in their order, each as soon as it and those before it are done.

    One thing is worked on here. What `work` raises is raised here when its turn comes; things not begun by then are
    left.

    Parameters
    ----------
    work
        A function of a module (it is found by name in the other process, which imports that module).
    things, and what comes of them
        Are sent from process to process: plain data, arrays, paths.
    most
        Processes at most; None for one a core.

    Raises
    ------
    ProcessError
        If a process was ended from outside, as a system does that is out of memory.
    """
    with workers(min(len(things), most or cores())) as submit:
        waiting = [submit(work, thing) for thing in things]
        for result in waiting:
            yield result()


@contextlib.contextmanager
def workers(most: int) -> Iterator[Submit]:
    """Processes that take work as it comes, up to so many, until the block ends; work not begun by then is left.

    With fewer than two, work is done here, when it is asked for what came of it.

    Raises
    ------
    ProcessError
        From what waits for some work, as `each`.
    """
    if most < 2:
        yield functools.partial
        return
    pool = ProcessPoolExecutor(most, mp_context=multiprocessing.get_context("spawn"), initializer=_end_without_a_word)

    def submit(work: Callable[[Thing], Result], thing: Thing) -> Callable[[], Result]:
        with _ended_from_outside(), _one_thread_each(), _interrupted_later():
            future = pool.submit(_put_away, work, thing)

        def result() -> Result:
            with _ended_from_outside():
                return future.result()

        return result

    try:
        yield submit
    finally:
        pool.shutdown(cancel_futures=True)


def cores() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextlib.contextmanager
def _ended_from_outside() -> Iterator[None]:
    try:
        yield
    except BrokenProcessPool as error:
        raise ProcessError(
            "a process that measured was ended from outside (out of memory?); close other programs and try again"
        ) from error


def _put_away(work: Callable[[Thing], Result], thing: Thing) -> Result:
    """Ctrl-C ends the work as an error would, so that what it has begun to write goes away; then the process ends."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        return work(thing)
    except KeyboardInterrupt:
        os._exit(1)
    finally:
        signal.signal(signal.SIGINT, signal.SIG_DFL)


@contextlib.contextmanager
def _one_thread_each() -> Iterator[None]:
    """Processes started meanwhile do their arithmetic in one thread, unless the user has said otherwise."""
    added = [name for name in THREADS if name not in os.environ]
    os.environ.update(dict.fromkeys(added, "1"))
    try:
        yield
    finally:
        for name in added:
            del os.environ[name]


@contextlib.contextmanager
def _interrupted_later() -> Iterator[None]:
    """Ctrl-C waits, here and in processes started meanwhile: one that is being started would complain of it."""
    if sys.platform == "win32":  # has no signal masks
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _end_without_a_word() -> None:
    """Ctrl-C reaches every process of a terminal: these just end, and the one that asked says what is to be said."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    if sys.platform != "win32":
        signal.pthread_sigmask(signal.SIG_UNBLOCK, [signal.SIGINT])
