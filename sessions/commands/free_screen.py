"""The terminal screen of free listening: it draws its page and hands it the keys."""

from __future__ import annotations

import curses
import os

from . import keyboard, window_text
from .free_page import LAST_WORDS, FreePage
from .keyboard import Keyboard
from .window_text import Block, Row, Span

TICK_MS = 50
NARROWEST = 60


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
    height, width = window.getmaxyx()
    wide = window_text.room(width)
    title, what, where = page.lines()
    setups: list[Row] = [
        (Span(f"  {text}  {'◀ on' if is_on else ''}", 0, "marked" if is_on else "plain"),)
        for text, is_on in page.setups()
    ]
    blocks: list[Block] = [
        window_text.sentences(title, wide, "dim"),
        window_text.sentences(what, wide, "bold"),
        setups,
        window_text.sentences(where, wide),
        [row for text in page.what_keys_do() for row in window_text.sentences(text, wide)],
        [row for text in page.messages() for row in window_text.sentences(text, wide, "dim")],
    ]
    room = min(LAST_WORDS, height - window_text.lines_needed(blocks) - len(blocks) - 2)
    if page.words and room > 0:
        heading = "Said so far:" if len(page.words) <= room else "Said last:"
        words = [row for text in page.words[-room:] for row in window_text.sentences(text, wide, indent=2)[:1]]
        blocks.append([(Span(heading, 0, "dim"),), *words])
    window_text.draw(window, blocks, NARROWEST)
