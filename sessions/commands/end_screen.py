"""The page that shows the chain's end before the first trial: a code to film, its words, and a key to go on.

Nothing on it depends on the key or on any answer: it is drawn from the hash of a row.
"""

from __future__ import annotations

import curses
import textwrap
from collections.abc import Sequence
from contextlib import suppress

from . import context, filmed_code

GO_ON = "press a key to go on"
MARGIN = 2


def show(words: Sequence[str], text: str, to_type: str, encoding: str | None) -> None:
    """Draw it until a key is pressed; the commands to type later stand whole below it."""
    below = context.wrapped(context.addressed(to_type)).split("\n")
    curses.wrapper(_wait, words, text, below, encoding)


def _wait(window: curses.window, words: Sequence[str], text: str, below: Sequence[str], encoding: str | None) -> None:
    with suppress(curses.error):
        curses.curs_set(0)
    style = _black_on_white()
    curses.flushinp()
    while True:
        _draw(window, words, text, below, encoding, style)
        if window.getch() not in (-1, curses.KEY_RESIZE):
            return


def _black_on_white() -> int:
    """How a code must be drawn for a camera, whatever the terminal's own colours are."""
    if not curses.has_colors():
        return curses.A_REVERSE
    white = curses.COLOR_WHITE if curses.COLORS < 16 else 15  # the bright one
    curses.init_pair(1, curses.COLOR_BLACK, white)
    return curses.color_pair(1)


def _draw(
    window: curses.window, words: Sequence[str], text: str, below: Sequence[str], encoding: str | None, style: int
) -> None:
    window.erase()
    height, width = window.getmaxyx()
    wide = width - 2 * MARGIN
    under = ["", *(part for line in below for part in textwrap.wrap(line, wide, break_on_hyphens=False))]
    page = filmed_code.sheet([*words, GO_ON], text, wide, height - len(under), encoding)
    with suppress(curses.error):  # what has no room is left out
        for row, line in enumerate(page.code):
            window.addstr(row, MARGIN, line, style)
        for row, line in enumerate(page.words):
            window.addstr(row, MARGIN + page.words_from, line)
        for row, line in enumerate(under, page.height):
            window.addstr(row, MARGIN, line)
    window.refresh()
