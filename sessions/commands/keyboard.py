"""The keys of a terminal's window: a character as it was typed, of whatever bytes, or the name of another key.

It draws nothing. A character is one character long; a named key never is.
"""

from __future__ import annotations

import codecs
import curses
import time
from collections.abc import Callable
from typing import Final, Protocol

ENTER: Final = "enter"
ESCAPE: Final = "escape"
BACKSPACE: Final = "backspace"
UP, DOWN, LEFT, RIGHT = "up", "down", "left", "right"
PAGE_UP, PAGE_DOWN, HOME, END = "page up", "page down", "home", "end"
CLEAR: Final = "clear"  # Ctrl-U: the line that is being typed
RESIZED: Final = "resized"
OTHER: Final = "other"

QUIET_S = 0.3  # keys that repeat come every 0.03 to 0.1 s
HELD_S = 0.75  # the longest usual wait before a held key repeats is 0.66 s (X servers)

_CONTROLS = {10: ENTER, 13: ENTER, 27: ESCAPE, 8: BACKSPACE, 127: BACKSPACE, 21: CLEAR}
_CODES = {
    curses.KEY_ENTER: ENTER,
    curses.KEY_BACKSPACE: BACKSPACE,
    curses.KEY_UP: UP,
    curses.KEY_DOWN: DOWN,
    curses.KEY_LEFT: LEFT,
    curses.KEY_RIGHT: RIGHT,
    curses.KEY_PPAGE: PAGE_UP,
    curses.KEY_NPAGE: PAGE_DOWN,
    curses.KEY_HOME: HOME,
    curses.KEY_END: END,
    curses.KEY_FIND: HOME,  # what some terminals send for them
    curses.KEY_SELECT: END,
    curses.KEY_RESIZE: RESIZED,
}


class Bytes(Protocol):
    """What gives a window's keys: a byte, a code above 255, or −1 where none came in time."""

    def getch(self) -> int:
        """The next one."""

    def timeout(self, delay: int, /) -> None:
        """How long to wait for it, in milliseconds; 0: not at all."""


class Keyboard:
    """The keys of a window, which waits `tick_ms` for each.

    Parameters
    ----------
    encoding
        The terminal's; where it is plain ASCII (or unknown), what is typed is taken as UTF-8.
    monotonic
        The clock, in seconds.
    """

    def __init__(
        self,
        window: Bytes,
        tick_ms: int,
        encoding: str = "utf-8",
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        self._window = window
        self._tick_ms = tick_ms
        self._monotonic = monotonic
        self._decoder = codecs.getincrementaldecoder(_encoding(encoding))(errors="ignore")
        self._ignored, self._ignored_at = "", 0.0
        window.timeout(tick_ms)

    def read(self) -> str | None:
        """The next key: a character, or a key's name; None where none came in time."""
        key = self._key()
        if key is None:
            return None
        now = self._monotonic()
        if key != self._ignored or now - self._ignored_at >= HELD_S:
            self._ignored = ""  # the hold is over: another key came, or it was let go
            return key
        self._ignored_at = now
        return None

    def ignore_held(self, key: str) -> None:
        """Leave a key out as long as it may still be the same press of it, or a bounce: until another key comes."""
        self._ignored, self._ignored_at = key, self._monotonic()

    def forget(self) -> list[str]:
        """Drop what was typed ahead; while it goes on (a held key, a word being typed), until it is quiet. What it was.

        Somebody who typed nothing ahead waits for nothing.
        """
        dropped = self._pending()
        if dropped:
            quiet_from = self._monotonic()
            while self._monotonic() - quiet_from < QUIET_S:
                self._window.timeout(self._tick_ms)
                key = self._key()
                if key is not None and key != RESIZED:
                    dropped.append(key)
                    quiet_from = self._monotonic()
        self._decoder.reset()
        self._window.timeout(self._tick_ms)
        return dropped

    def _pending(self) -> list[str]:
        self._window.timeout(0)
        keys = list(iter(self._key, None))
        return [key for key in keys if key != RESIZED]

    def _key(self) -> str | None:
        while True:
            code = self._window.getch()
            if code == -1:
                return None
            if code > 255:
                self._decoder.reset()
                return _CODES.get(code, OTHER)
            if code < 32 or code == 127:
                self._decoder.reset()
                return _CONTROLS.get(code, OTHER)
            typed = self._decoder.decode(bytes([code]))
            if typed:  # otherwise the rest of the character is still to come
                return typed[-1] if typed[-1].isprintable() else OTHER


def _encoding(name: str) -> str:
    """The codec of what is typed: UTF-8 has all that ASCII has."""
    try:
        found = codecs.lookup(name).name
    except LookupError:
        return "utf-8"
    return "utf-8" if found == "ascii" else found
