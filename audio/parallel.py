"""Work on many things at once, each in a process of its own. It knows nothing of sound.

Python runs one thread of its own at a time, and a library's threads would divide the same work again; so each process
keeps its matrix arithmetic to itself. Processes are started afresh on every system (never forked: a fork would copy
what audio devices and libraries hold).
"""

from __future__ import annotations

import contextlib
import functools
import os
import signal
import sys
import threading
import types
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from typing import Generic, Protocol, TypeVar

from . import arithmetic_threads
from .errors import ProcessError

Thing = TypeVar("Thing")
Result = TypeVar("Result")


class Submit(Protocol):
    """Begins some work on a thing; what it gives back waits for it, and gives what came of it or raises what it did."""

    def __call__(self, work: Callable[[Thing], Result], thing: Thing, /) -> Callable[[], Result]:
        """`work` is a function of a module; things and what comes of them are plain data, arrays, paths."""


def each(work: Callable[[Thing], Result], things: Sequence[Thing], *, most: int | None = None) -> Iterator[Result]:
    """What `work` makes of each thing, in their order, each as soon as it and those before it are done.

    This process works too, and whoever is free takes the next thing; one thing alone is worked on here. What `work`
    raises is raised here when its turn comes; things not begun by then are left.

    Parameters
    ----------
    work
        A function of a module (it is found by name in the other process, which imports that module).
    things, and what comes of them
        Are sent from process to process: plain data, arrays, paths.
    most
        Processes at most, with this one; None for one a core.

    Raises
    ------
    ProcessError
        If a process was ended from outside, as a system does that is out of memory.
    """
    processes = min(len(things), most or cores())
    if processes < 2:
        yield from map(work, things)
        return
    dealt = _Dealt(work, things)
    with _others(processes - 1) as submit:
        try:
            for _ in range(processes - 1):
                dealt.to_another(submit)
            yield from dealt.results()
        finally:
            dealt.no_more()


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
    with _others(most) as submit:
        yield submit


@contextlib.contextmanager
def _others(count: int) -> Iterator[Submit]:
    """So many other processes, as `workers`."""
    import multiprocessing  # not for who asks for nothing but the number of processors
    from concurrent.futures import ProcessPoolExecutor

    pool = ProcessPoolExecutor(count, mp_context=multiprocessing.get_context("spawn"), initializer=_begin)

    def submit(work: Callable[[Thing], Result], thing: Thing) -> Callable[[], Result]:
        with _ended_from_outside(), _one_thread_each(), _without_the_program(), _interrupted_later():
            future = pool.submit(_worked, work, thing)

        def result() -> Result:
            with _ended_from_outside():
                return future.result()

        return result

    try:
        yield submit
    finally:
        pool.shutdown(cancel_futures=True)


class _Dealt(Generic[Thing, Result]):
    """Things dealt out one at a time to whoever is free, other processes and this one, and what came of each.

    None is given to a process that is still at work on another: at the end, that would leave one waiting for it.
    """

    def __init__(self, work: Callable[[Thing], Result], things: Sequence[Thing]) -> None:
        from concurrent.futures import Future

        self._work = work
        self._left = deque(enumerate(things))
        self._found: list[Future[Result]] = [Future() for _ in things]

    def to_another(self, submit: Submit) -> None:
        """Give one to another process, and from then on the next as soon as it is done with one."""
        place, thing = self._left.popleft()
        threading.Thread(target=self._one_after_another, args=(submit, place, submit(self._work, thing))).start()

    def no_more(self) -> None:
        """What was not begun is left."""
        self._left.clear()

    def results(self) -> Iterator[Result]:
        """What came of each in order, while this process works on what is left."""
        for found in self._found:
            while not found.done() and (mine := self._next()):
                place, thing = mine
                self._keep(place, functools.partial(self._work, thing), Exception)  # Ctrl-C is for this process
            yield found.result()

    def _one_after_another(self, submit: Submit, place: int, result: Callable[[], Result]) -> None:
        self._keep(place, result, BaseException)
        while following := self._next():
            place, thing = following
            self._keep(place, lambda thing=thing: submit(self._work, thing)(), BaseException)  # type: ignore[misc]

    def _next(self) -> tuple[int, Thing] | None:
        try:
            return self._left.popleft()
        except IndexError:
            return None

    def _keep(self, place: int, result: Callable[[], Result], faults: type[BaseException]) -> None:
        try:
            self._found[place].set_result(result())
        except faults as fault:
            self._found[place].set_exception(fault)


def cores() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class _Interruptions:
    """Ctrl-C in a process that works for another: it reaches every process of a terminal, and the first one says so.

    It ends the work on hand as an error would, so that what that has begun to write goes away, and all that comes
    after. The process itself stays until the first one lets it go: the pool ends all others as soon as one ends by
    itself, also those that are still putting something away.
    """

    def __init__(self) -> None:
        self._working = self._interrupted = False

    def listen(self) -> None:
        """Begin to take it, in a process just started, where it waited until now."""
        signal.signal(signal.SIGINT, self._take)
        if sys.platform != "win32":
            signal.pthread_sigmask(signal.SIG_UNBLOCK, [signal.SIGINT])

    def during(self, work: Callable[[Thing], Result], thing: Thing) -> Result:
        """What the work comes to; raises KeyboardInterrupt if it was interrupted, or the process was before."""
        self._working = True
        try:
            if self._interrupted:
                raise KeyboardInterrupt
            return work(thing)
        finally:
            self._working = False

    def _take(self, *_: object) -> None:
        self._interrupted = True
        if self._working:
            self._working = False  # once: what is being put away is not interrupted again
            raise KeyboardInterrupt


_INTERRUPTIONS = _Interruptions()  # of this process: found by name, since a method would bring a copy along


def _begin() -> None:
    _INTERRUPTIONS.listen()


def _worked(work: Callable[[Thing], Result], thing: Thing) -> Result:
    return _INTERRUPTIONS.during(work, thing)


@contextlib.contextmanager
def _ended_from_outside() -> Iterator[None]:
    from concurrent.futures.process import BrokenProcessPool

    try:
        yield
    except BrokenProcessPool as error:
        raise ProcessError(
            "a process that measured was ended from outside (out of memory?); close other programs and try again"
        ) from error


@contextlib.contextmanager
def _one_thread_each() -> Iterator[None]:
    """Processes started meanwhile do their arithmetic in one thread, unless the user has said otherwise."""
    added = arithmetic_threads.keep_to_one(os.environ)
    try:
        yield
    finally:
        for name in added:
            del os.environ[name]


@contextlib.contextmanager
def _without_the_program() -> Iterator[None]:
    """Processes started meanwhile do not load the program's first module, as Python would have them do.

    Their work is found in modules by name; the command line takes as long to load as half of what they need.
    """
    program = sys.modules["__main__"]
    sys.modules["__main__"] = types.ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = program


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
