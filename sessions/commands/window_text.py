"""Writing into a window of the terminal: what has no room is left out, and nothing is obeyed."""

from __future__ import annotations

import curses

from .plain_text import in_one_line


def put(window: curses.window, line: int, column: int, text: str, style: int = curses.A_NORMAL) -> None:
    """Write a text at a place, as much of it as there is room for."""
    height, width = window.getmaxyx()
    if line < height and column < width - 1:
        window.addnstr(line, column, in_one_line(text), width - column - 1, style)
