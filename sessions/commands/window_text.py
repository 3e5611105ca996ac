"""Text in a window of the terminal: rows broken between words, as many columns and lines as there are.

Rows are worked out first (pure) and then drawn. No row reaches the window's last column, and a page that has no room is
not drawn in part: who draws asks for a larger window. What a terminal would obey is written out.
"""

from __future__ import annotations

import curses
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from .plain_text import in_one_line

MARGIN = 3
RIGHT = 2  # columns left free on the right
BETWEEN = "    "  # hints of keys in a row

Style = Literal["plain", "dim", "bold", "marked"]
_STYLES = {"plain": curses.A_NORMAL, "dim": curses.A_DIM, "bold": curses.A_BOLD, "marked": curses.A_REVERSE}


@dataclass(frozen=True)
class Span:
    """A text in a row, from a column on (0 is the margin)."""

    text: str
    column: int = 0
    style: Style = "plain"


Row = tuple[Span, ...]
Block = Sequence[Row]
"""Rows that belong together; an empty one is drawn between blocks where there is room."""


def columns(text: str) -> int:
    r"""How many columns of a terminal a text takes: two for a wide character, none for a mark on another (UAX #11).

    >>> columns("hard"), columns("hört"), columns("明るい"), columns("e\u0301")
    (4, 4, 6, 1)
    """
    return sum(_columns(character) for character in text)


def room(width: int) -> int:
    """The columns for text in a window so wide."""
    return width - MARGIN - RIGHT


def sentences(text: str, wide: int, style: Style = "plain", indent: int = 0) -> list[Row]:
    """A text in rows of so many columns, broken at spaces; only a word that is longer than a row is broken in itself.

    >>> [row[0].text for row in sentences("the sound is back", 9)]
    ['the sound', 'is back']
    """
    rows, row = [], ""
    for word in in_one_line(text).split(" "):
        if row and columns(row) + 1 + columns(word) <= wide - indent:
            row += f" {word}"
            continue
        if row:
            rows.append(row)
        row = word
        while columns(row) > wide - indent:
            head = _head(row, wide - indent)
            rows.append(head)
            row = row[len(head) :]
    return [(Span(row, indent, style),) for row in [*rows, row]]


def hints(texts: Sequence[str], wide: int, indent: int = 0) -> list[Row]:
    """What keys do, several to a row, none of them broken.

    >>> [row[0].text for row in hints(["space: pause", "q: stop"], 40)]
    ['space: pause    q: stop']
    """
    rows: list[str] = []
    for text in texts:
        if rows and columns(rows[-1]) + len(BETWEEN) + columns(text) <= wide - indent:
            rows[-1] += BETWEEN + text
        else:
            rows.append(text)
    return [row for text in rows for row in sentences(text, wide, indent=indent)]


def lines_needed(blocks: Sequence[Block]) -> int:
    """The lines that a page needs at least."""
    return sum(len(block) for block in blocks)


def stacked(blocks: Sequence[Block], height: int) -> list[Row]:
    """The rows of a page from the top, with as many empty ones before its blocks as there is room for."""
    there = [block for block in blocks if block]
    spare = height - lines_needed(there)
    rows: list[Row] = []
    for place, block in enumerate(there):
        if place < spare:
            rows.append(())
        rows.extend(block)
    return rows


def draw(window: curses.window, blocks: Sequence[Block], narrowest: int) -> None:
    """Draw a page; where it has no room, what room it needs."""
    height, width = window.getmaxyx()
    needed = lines_needed(blocks)
    if width < narrowest or height < needed:
        blocks = [sentences(f"make the window larger ({max(width, narrowest)} x {max(height, needed)})", room(width))]
    window.erase()
    for line, row in enumerate(stacked(blocks, height)[:height]):
        for span in row:
            _put(window, line, MARGIN + span.column, span)
    window.refresh()


def _put(window: curses.window, line: int, column: int, span: Span) -> None:
    _, width = window.getmaxyx()
    text = _head(in_one_line(span.text), max(0, width - column - 1))
    if text:
        window.addstr(line, column, text, _STYLES[span.style])


def _head(text: str, wide: int) -> str:
    """As much of a text from its beginning as has so many columns."""
    taken = 0
    for place, character in enumerate(text):
        taken += _columns(character)
        if taken > wide:
            return text[:place]
    return text


def _columns(character: str) -> int:
    if unicodedata.combining(character) or unicodedata.category(character) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in ("W", "F") else 1
