"""How often garbage is looked for: seldom while a program is loaded, since what is loaded stays.

Each time all that is there is gone through, which takes a fifth of a short command's time.
"""

from __future__ import annotations

import atexit
import gc
from collections.abc import Iterator
from contextlib import contextmanager

USUAL = gc.get_threshold()
SELDOM = 100_000  # more objects made than gone, before garbage is looked for: some 10 MB of pictures


@contextmanager
def seldom() -> Iterator[None]:
    """Garbage looked for seldom meanwhile, and not at the end of the program."""
    before = gc.get_threshold()
    atexit.register(gc.freeze)
    gc.set_threshold(SELDOM, *USUAL[1:])
    try:
        yield
    finally:
        gc.freeze()
        gc.unfreeze()  # all is old now, so that it is not gone through at once
        gc.set_threshold(*before)


def as_usual() -> None:
    """Look for it as often as usual from now on: for what works long, or on much."""
    gc.set_threshold(*USUAL)
