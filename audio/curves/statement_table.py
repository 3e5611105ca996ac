"""A table as a picture: words in columns that suit the frame it is to fill. On `picture` alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from . import picture
from .picture import GRID, INK, SMALL_PT
from .words import wrap

BOLD = 6  # letters are as wide as one more in plain type
LEAST_LETTERS, ROW_GAP, MARGIN_IN = 8, 0.8, 0.06  # of a column's line; between rows, in lines; around a table


def statements(
    headings: Sequence[str], rows: Sequence[Sequence[str]], *, title: str = "", note: str = "", bold: int = 1
) -> Any:
    """Words in columns, broken into lines; the last (so many) columns in bold; the note below them."""
    figure = picture.paper()

    def lay(wide_in: float, high_in: float) -> None:
        _statements(figure, [headings, *rows], title, note, (wide_in, high_in), bold)

    lay(picture.WIDTH_IN, 0.0)
    picture.TABLES[figure] = lay
    return figure


def _statements(
    figure: Any, rows: Sequence[Sequence[str]], title: str, note: str, frame_in: tuple[float, float], bold: int
) -> None:
    """Columns that suit a frame (height 0: as high as is needed), on a picture as large as they are."""
    letters = _columns(rows, note, frame_in, bold)
    cells = _cells(rows, letters, bold)
    heights = [max(text.count("\n") + 1 for text in row) + ROW_GAP for row in cells]
    below = wrap(note, round(sum(letters)))
    figure.clear()
    figure.set_size_inches(*_size_in(rows, letters, note, bold))
    figure.get_layout_engine().set(w_pad=MARGIN_IN, h_pad=MARGIN_IN)
    axes = figure.add_subplot()
    axes.set_axis_off()
    axes.set_xlim(0, sum(letters))
    axes.set_ylim(sum(heights) + len(below), 0)
    axes.text(0, sum(heights), "\n".join(below), fontsize=SMALL_PT, va="top", color=INK)
    picture.entitled(axes, title)
    for number, row in enumerate(cells):
        top = sum(heights[:number])
        axes.axhline(top, color=GRID, lw=0.6)
        for place, text in enumerate(row):
            weight = "bold" if number == 0 or place >= len(row) - bold else "normal"
            where = sum(letters[:place]), top + ROW_GAP / 2
            axes.text(*where, text, fontsize=SMALL_PT, va="top", weight=weight, color=INK)


def _columns(rows: Sequence[Sequence[str]], note: str, frame_in: tuple[float, float], bold: int) -> list[int]:
    """How many letters each column has: those with which the type can be largest in the frame."""
    texts = list(zip(*rows, strict=True))
    longest = [max(map(len, column)) for column in texts]
    word = [max((len(one) for text in column for one in text.split()), default=1) for column in texts]
    best, least = list[int](), float("inf")
    for most in range(LEAST_LETTERS, max([*longest, LEAST_LETTERS]) + 1):
        letters = [min(whole, max(one, most)) + 2 for whole, one in zip(longest, word, strict=True)]
        letters[-bold:] = [one + one // BOLD for one in letters[-bold:]]
        (wide, high), (frame_wide, frame_high) = _size_in(rows, letters, note, bold), frame_in
        needs = max(wide / frame_wide, high / frame_high) if frame_high else max(wide / frame_wide, 1) + high / 1e3
        if needs < least:
            best, least = letters, needs
    return best


def _cells(rows: Sequence[Sequence[str]], letters: Sequence[int], bold: int) -> list[list[str]]:
    held = [
        wide - 2 - (wide // (BOLD + 1) if place >= len(letters) - bold else 0) for place, wide in enumerate(letters)
    ]
    return [["\n".join(wrap(text, most)) for text, most in zip(row, held, strict=True)] for row in rows]


def _size_in(rows: Sequence[Sequence[str]], letters: Sequence[int], note: str, bold: int) -> tuple[float, float]:
    """Width and height of a table in inches, in its own type."""
    lines = sum(max(text.count("\n") + 1 for text in row) + ROW_GAP for row in _cells(rows, letters, bold))
    return 0.082 * sum(letters) + 2 * MARGIN_IN, 0.175 * (lines + len(wrap(note, sum(letters)))) + 0.3 + 2 * MARGIN_IN
