"""What is to be kept and is not on disk yet: written in its order, in one short transaction, as soon as it can be.

While another program holds the casebook, everything stays in memory. With nothing to write, nothing is opened.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from ..casebook.store import Casebook
from ..errors import CasebookBusy

RETRY_S = 1.0  # between two tries, so that keys and picture are not held up by them


def sentence(waits: str) -> str:
    """What is waited for, as a sentence; empty where nothing is."""
    return f"{waits[0].upper()}{waits[1:]}." if waits else ""


WAITS = sentence(CasebookBusy.waits)


class WriteQueue:
    """Rows on their way to the casebook."""

    def __init__(self, casebook: Casebook, monotonic: Callable[[], float] = time.monotonic) -> None:
        self._casebook = casebook
        self._monotonic = monotonic
        self._writes: list[Callable[[], object]] = []
        self._next_try = float("-inf")
        self._refused = ""

    @property
    def waiting(self) -> str:
        """For what is waited, if something could not be written when it was tried last; empty if it could."""
        return self._refused

    @property
    def due(self) -> bool:
        """Whether there is something to write, and time to try it."""
        return bool(self._writes) and self._monotonic() >= self._next_try

    def add(self, write: Callable[[], object]) -> None:
        """Put a write at the end of the queue; it may be called again if the casebook was in use."""
        self._writes.append(write)

    def flush(self) -> None:
        """Write everything; when this returns it is on disk.

        Raises
        ------
        CasebookBusy
            If another program holds the casebook. Nothing was written, and everything is still in the queue.
        """
        if not self._writes:
            return
        try:
            with self._casebook.writing():
                for write in self._writes:
                    write()
        except CasebookBusy as error:
            self._refused, self._next_try = error.waits, self._monotonic() + RETRY_S
            raise
        self._writes.clear()
        self._refused, self._next_try = "", float("-inf")
