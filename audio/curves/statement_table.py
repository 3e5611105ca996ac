"""A table as a picture: words in columns that suit the frame it is to fill. On `picture` alone.

A frame that cannot hold all words in type that a telephone shows well gets fewer: rows stand closer, then columns that
can be spared are left out, then the note and the columns between the first and the bold ones are cut. No row is left
out; what lacks is told (`frame.CUT`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from . import frame, graph_paper, picture
from .palette import GRID, INK, SMALL_PT
from .words import shortened, wrap

BOLD = 6  # letters are as wide as one more in plain type
LEAST_LETTERS, MARGIN_IN = 8, 0.06  # of a column's line; around a table
ROW_GAPS = (0.8, 0.35)  # between rows, in lines: as it is, and where room is short
MOST_LETTERS = (120, 80, 56, 44, 36)  # of a cell that is cut, and of the note twice as many


@dataclass(frozen=True)
class _Table:
    """What is laid out: the headings first among the rows."""

    rows: Sequence[Sequence[str]]
    note: str
    bold: int
    gap: float = ROW_GAPS[0]


def statements(
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    title: str = "",
    note: str = "",
    bold: int = 1,
    spare: Sequence[int] = (),
) -> Any:
    """Words in columns, broken into lines; the last (so many) columns in bold; the note below them.

    Parameters
    ----------
    spare
        The columns, from 0, that are left out where a frame has no room for them.
    """
    figure = picture.paper()
    whole = _Table([headings, *rows], note, bold)

    def lay(wide_in: float, high_in: float) -> None:
        shown = _fitting(whole, spare, (wide_in, high_in)) if high_in else whole
        frame.CUT.pop(figure, None)
        if shown.rows != whole.rows or shown.note != whole.note:
            told = [": ".join(part for part in row if part) for row in rows]
            frame.CUT[figure] = "\n".join([*told, *([note] if note else [])])
        _statements(figure, shown, title, (wide_in, high_in))

    lay(frame.WIDTH_IN, 0.0)
    frame.TABLES[figure] = lay
    return figure


def _fitting(whole: _Table, spare: Sequence[int], frame_in: tuple[float, float]) -> _Table:
    """The table with the most words that fits the frame in its own type; else the one that comes nearest to that."""
    best, least = whole, float("inf")
    for one in _ever_shorter(whole, spare):
        wide, high = _size_in(one, _columns(one, frame_in))
        needs = max(wide / frame_in[0], high / frame_in[1])
        if needs <= 1:
            return one
        if needs < least:
            best, least = one, needs
    return best


def _ever_shorter(whole: _Table, spare: Sequence[int]) -> Iterator[_Table]:
    yield whole
    closer = replace(whole, gap=ROW_GAPS[1])
    yield closer
    kept = [place for place in range(len(whole.rows[0])) if place not in spare]
    rows = [[row[place] for place in kept] for row in whole.rows]
    yield replace(closer, rows=rows)
    for most in MOST_LETTERS:
        cut = [[row[0], *(_cut(text, most) for text in row[1 : -whole.bold]), *row[-whole.bold :]] for row in rows]
        yield replace(closer, rows=cut, note=_cut(whole.note, 2 * most))


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{shortened(text, most - 2)} …"


def _statements(figure: Any, table: _Table, title: str, frame_in: tuple[float, float]) -> None:
    """Columns that suit a frame (height 0: as high as is needed), on a picture as large as they are."""
    letters = _columns(table, frame_in)
    cells = _cells(table, letters)
    heights = [max(text.count("\n") + 1 for text in row) + table.gap for row in cells]
    below = wrap(table.note, round(sum(letters)))
    figure.clear()
    figure.set_size_inches(*_size_in(table, letters))
    figure.get_layout_engine().set(w_pad=MARGIN_IN, h_pad=MARGIN_IN)
    axes = figure.add_subplot()
    axes.set_axis_off()
    axes.set_xlim(0, sum(letters))
    axes.set_ylim(sum(heights) + len(below), 0)
    axes.text(0, sum(heights), "\n".join(below), fontsize=SMALL_PT, va="top", color=INK)
    graph_paper.entitled(axes, title)
    for number, row in enumerate(cells):
        top = sum(heights[:number])
        axes.axhline(top, color=GRID, lw=0.6)
        for place, text in enumerate(row):
            weight = "bold" if number == 0 or place >= len(row) - table.bold else "normal"
            where = sum(letters[:place]), top + table.gap / 2
            axes.text(*where, text, fontsize=SMALL_PT, va="top", weight=weight, color=INK)


def _columns(table: _Table, frame_in: tuple[float, float]) -> list[int]:
    """How many letters each column has: those with which the type can be largest in the frame."""
    texts = list(zip(*table.rows, strict=True))
    longest = [max(map(len, column)) for column in texts]
    word = [max((len(one) for text in column for one in text.split()), default=1) for column in texts]
    best, least = list[int](), float("inf")
    for most in range(LEAST_LETTERS, max([*longest, LEAST_LETTERS]) + 1):
        letters = [min(whole, max(one, most)) + 2 for whole, one in zip(longest, word, strict=True)]
        letters[-table.bold :] = [one + one // BOLD for one in letters[-table.bold :]]
        (wide, high), (frame_wide, frame_high) = _size_in(table, letters), frame_in
        needs = max(wide / frame_wide, high / frame_high) if frame_high else max(wide / frame_wide, 1) + high / 1e3
        if needs < least:
            best, least = letters, needs
    return best


def _cells(table: _Table, letters: Sequence[int]) -> list[list[str]]:
    held = [
        wide - 2 - (wide // (BOLD + 1) if place >= len(letters) - table.bold else 0)
        for place, wide in enumerate(letters)
    ]
    return [["\n".join(wrap(text, most)) for text, most in zip(row, held, strict=True)] for row in table.rows]


def _size_in(table: _Table, letters: Sequence[int]) -> tuple[float, float]:
    """Width and height of a table in inches, in its own type."""
    lines = sum(max(text.count("\n") + 1 for text in row) + table.gap for row in _cells(table, letters))
    below = len(wrap(table.note, sum(letters)))
    return 0.082 * sum(letters) + 2 * MARGIN_IN, 0.175 * (lines + below) + 0.3 + 2 * MARGIN_IN
