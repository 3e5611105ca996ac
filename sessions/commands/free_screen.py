"""The terminal screen of free listening: it draws its page and hands it the keys."""

from __future__ import annotations

import curses
import os
import textwrap

from . import keyboard
from .free_page import LAST_WORDS, FreePage
from .keyboard import Keyboard
from .window_text import put

TICK_MS = 50
NARROWEST, LOWEST = 60, 16
MARGIN = 3


def run(page: FreePage) -> None:
    """Listen until the listener stops; the first stretch is at the player."""
    for stale in ("COLUMNS", "LINES"):  # exported sizes would win over the terminal's own
        os.environ.pop(stale, None)
    curses.wrapper(_loop, page)


def _loop(window: curses.window, page: FreePage) -> None:
    curses.curs_set(0)
    curses.set_escdelay(25)
    keys = Keyboard(window, TICK_MS, window.encoding)
    while page.asking != "over":
        page.poll()
        _draw(window, page)
        if page.asking == "next":
            page.bring()
            keys.forget()
            continue
        key = keys.read()
        if key is not None and key != keyboard.RESIZED:
            page.turn(key)


def _draw(window: curses.window, page: FreePage) -> None:
    window.erase()
    height, width = window.getmaxyx()
    if width < NARROWEST or height < LOWEST:
        put(window, 0, 0, f"make the window larger ({NARROWEST} x {LOWEST})")
        window.refresh()
        return
    title, what, where = page.lines()
    put(window, 1, MARGIN, title, curses.A_DIM)
    put(window, 3, MARGIN, what, curses.A_BOLD)
    line = 5
    for text, is_on in page.setups():
        put(
            window, line, MARGIN, f"  {text}  {'◀ on' if is_on else ''}", curses.A_REVERSE if is_on else curses.A_NORMAL
        )
        line += 1
    put(window, line + 1, MARGIN, where)
    line += 3
    for text in page.what_keys_do():
        for row in textwrap.wrap(text, width - 2 * MARGIN) or [""]:
            put(window, line, MARGIN, row)
            line += 1
    line += 1
    for text in page.messages():
        for row in textwrap.wrap(text, width - 2 * MARGIN, break_on_hyphens=False):
            put(window, line, MARGIN, row, curses.A_DIM)
            line += 1
    room = max(0, min(LAST_WORDS, height - line - 3))
    if page.words and room:
        put(window, line + 1, MARGIN, "Said so far:" if len(page.words) <= room else "Said last:", curses.A_DIM)
        for place, text in enumerate(page.words[-room:]):
            put(window, line + 2 + place, MARGIN + 2, text)
    window.refresh()
