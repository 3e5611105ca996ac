"""Several pieces of work done side by side, where a copy of this process can be had for nothing: on Linux, by a fork.

What is copied is this process as it stands, libraries loaded, so that nothing is loaded twice. A copy is made only
while this process has no second thread of its own; it touches neither the casebook nor a device, gives back what it
made, and is gone. Elsewhere, and where a copy fails, the work is done here.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import struct
import sys
import threading
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from typing import TypeVar

from audio import parallel

Made = TypeVar("Made")

TURN = struct.Struct("=H")
MOST = 4096  # pieces of work whose turns fit into a pipe before anybody takes one


def begun(works: Sequence[Callable[[], Made]]) -> AbstractContextManager[Callable[[], list[Made]]]:
    """Work that copies begin at once, while this process goes on with something else.

    What is given is called where the work is wanted: then this process takes the pieces that nobody has taken, and
    gives what each piece came to, in their order. A copy that still works when the context ends is ended.

    Parameters
    ----------
    works
        Such as raise nothing and neither read nor write the casebook; what they make is plain data.
    """
    can_be_shared = 1 < len(works) <= MOST and _can_be_copied()
    return _begun(works, min(parallel.cores(), len(works)) - 1 if can_be_shared else 0)


def _can_be_copied() -> bool:
    return sys.platform == "linux" and threading.active_count() == 1


@contextmanager
def _begun(works: Sequence[Callable[[], Made]], others: int) -> Iterator[Callable[[], list[Made]]]:
    if others < 1 or sys.platform == "win32":
        yield lambda: [work() for work in works]
        return
    waiting, given = os.pipe()
    os.write(given, b"".join(TURN.pack(turn) for turn in range(len(works))))
    os.close(given)
    copies: list[tuple[int, int]] = []
    gc.freeze()  # what is there already is left where it is, in the copies too: memory that is touched is copied

    def made() -> list[Made]:
        found = {turn: works[turn]() for turn in _turns(waiting)}
        while copies:
            found |= _given_back(*copies.pop())
        return [found[turn] if turn in found else work() for turn, work in enumerate(works)]

    try:
        for _ in range(others):
            copies.append(_copy(lambda: {turn: works[turn]() for turn in _turns(waiting)}))
        yield made
    finally:
        gc.unfreeze()
        os.close(waiting)
        for process, result in copies:  # after an interruption, or where nobody asked for their work
            os.close(result)
            os.kill(process, signal.SIGKILL)
            os.waitpid(process, 0)


def _turns(waiting: int) -> Iterator[int]:
    """The next piece of work that nobody has taken, until none is left."""
    while taken := os.read(waiting, TURN.size):
        yield TURN.unpack(taken)[0]


def _copy(work: Callable[[], object]) -> tuple[int, int]:
    """A copy of this process that does the work and ends; and where it writes what it made."""
    if sys.platform == "win32":
        raise NotImplementedError("there is no fork")
    result, written = os.pipe()
    with warnings.catch_warnings():
        warnings.simplefilter(
            "ignore", DeprecationWarning
        )  # arithmetic libraries have threads, and end them for a fork
        process = os.fork()
    if process:
        os.close(written)
        return process, result
    gc.disable()  # it is gone soon
    try:
        with os.fdopen(written, "wb") as out:
            pickle.dump(work(), out)
    except BaseException:
        os._exit(1)  # whatever it was, the work is done again by who asked for it
    os._exit(0)  # closes nothing of what was copied, and writes no half-written line a second time


def _given_back(process: int, result: int) -> dict[int, Made]:
    """What a copy made; nothing where it did not come to its end."""
    with os.fdopen(result, "rb") as read:
        made = read.read()
    _, status = os.waitpid(process, 0)
    found: dict[int, Made] = pickle.loads(made) if status == 0 else {}
    return found
