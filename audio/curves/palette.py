"""The palette of all pictures, their line styles and sizes of type.

Colours tell setups apart for the colour-blind too (after Okabe and Ito), and so do the line styles.
"""

from __future__ import annotations

from typing import Any

COLOURS = ("#0b7d7d", "#d55e00", "#4f63d9", "#9a6bb5", "#8a8a00", "#5d7380")
STYLES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), "-.", (0, (8, 2, 1, 2, 1, 2)), ":")
INK, FAINT, GRID, HATCH, BAND, PAPER = "#26323a", "#9aa5ab", "#d9dedb", "#c3cbc8", "#e3e7e5", "#ffffff"
ON_DARK = {
    INK: "#e8ecea", FAINT: "#7d8a91", GRID: "#333e45", HATCH: "#57646b", BAND: "#2a343a", PAPER: "#12181c",
    "#000000": "#e8ecea", "#0b7d7d": "#3fc1b8", "#d55e00": "#ff8f45", "#4f63d9": "#93a2ff", "#9a6bb5": "#c79be0",
    "#8a8a00": "#cfcf4a", "#5d7380": "#a9bcc7",
}  # fmt: skip
SEQUENCE = ("#14202b", "#1d4a5c", "#0b7d7d", "#4f9a72", "#a9bf6b", "#f2e3a1")  # ever lighter: reads in grey too
SHADES = ("#0b7d7d", "#5d9a4a", "#b58a1e", "#d0672f")  # for lines, seen on white as on black
TITLE_PT, TEXT_PT, SMALL_PT = 11.0, 10.0, 10.0


def line_look(place: int) -> tuple[str, Any]:
    """Colour and style of a line by its place among others: once all colours are used, they come with other styles."""
    return COLOURS[place % len(COLOURS)], STYLES[(place + place // len(COLOURS)) % len(STYLES)]
