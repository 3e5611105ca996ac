"""What every session at a terminal needs: a terminal that can be drawn on, and patience with a casebook in use."""

from __future__ import annotations

import importlib.util
import sys
import time
from collections.abc import Callable
from typing import TypeVar

from ..errors import CasebookBusy, ListenError
from ..listening.write_queue import RETRY_S, sentence
from .context import say

CARDS_SPARE_S = 0.2
BUSY_TIMEOUT_MS = 250  # on one writer's commit; a longer one is waited for in view, with the keys alive

T = TypeVar("T")


def has_screen() -> bool:
    """Whether this Python can draw on a terminal at all."""
    return importlib.util.find_spec("_curses") is not None


def check_terminal() -> None:
    """Nothing, if this is a terminal that the listening screen can be drawn on.

    Raises
    ------
    ListenError
        If keys cannot be read or a screen cannot be drawn here.
    """
    if not has_screen():
        raise ListenError(
            "the listening screen is drawn with curses, which this Python lacks (on Windows it always does); "
            "listen on Linux or macOS, or to a sealed plan by a page in a browser: earwitness serve"
        )
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise ListenError(
            "listening needs a terminal for its screen and keys; run it in one, not through a pipe, or listen to a "
            "sealed plan by a page in a browser: earwitness serve"
        )


def when_free(action: Callable[[], T]) -> T:
    """Do it as soon as no other program holds the casebook; whoever must wait for that reads it, once."""
    said = False
    while True:
        try:
            return action()
        except CasebookBusy as error:
            if not said:
                say(sentence(error.waits))
            said = True
            time.sleep(RETRY_S)


def wait_out(place: int, seconds: float) -> bool:
    """Printed cards answer nothing: the whole pause is theirs."""
    time.sleep(max(0.0, seconds - CARDS_SPARE_S))
    return True
