"""Standard error held shut while a C library works that prints its own complaints there."""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Iterator

_lock = threading.Lock()


@contextlib.contextmanager
def muted_stderr() -> Iterator[None]:
    """Nothing written to file descriptor 2 inside the block is seen.

    Keep the block short: it holds for all threads. libsndfile's MP3 decoder prints warnings itself; its user
    gets one clear line from us instead.
    """
    with _lock:
        try:
            kept = os.dup(2)
        except OSError:  # already closed: nothing to hold shut
            yield
            return
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, 2)
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)
            os.close(nowhere)
