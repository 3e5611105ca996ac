"""Cards for video: a verdict in large type, and ranked lists of words. On `still`, within the same safe area.

State is said by a word and by a shape, as well as by colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from . import still
from .palette import COLOURS, FAINT, INK
from .still import EDGE, WIDTH_IN, Still

Mark = Literal["whole", "half", "hollow", "cross"]
BIG_PT, SAID_PT, SMALL_PT, ROW_PT = 30.0, 12.0, 8.5, 11.0
WIDE = 1 - 2 * EDGE
MOST_ROWS = 8
MARKS = 0.37, 0.65  # where the marks of a row begin and end, in parts of the frame; our choice
APART = 1.35  # of a mark's size, between two of them
MOST_DOTS = 60  # more trials are a bar
FILLS: dict[Mark, dict[str, Any]] = {
    "whole": {"marker": "o", "fillstyle": "full"},
    "half": {"marker": "o", "fillstyle": "left"},
    "hollow": {"marker": "o", "fillstyle": "none"},
    "cross": {"marker": "X", "fillstyle": "full"},
}


@dataclass(frozen=True)
class Trials:
    """Answers that are counted: so many right of so many, and how many were needed (None: no number)."""

    right: int
    of: int
    needed: int | None
    word: str


@dataclass(frozen=True)
class Row:
    """One row of a list: its words, a mark for each time that counts, what stands at its end; `bold` if it is firm."""

    words: str
    marks: Sequence[Mark]
    end: str
    bold: bool = False


def verdict_card(above: str, mark: Mark, state: str, said: str, below: str, trials: Trials | None) -> Still:
    """A verdict: what was compared, the state in large type with its shape, a sentence, its trials, what is small."""
    figure = still.empty()
    colour = {"whole": COLOURS[0], "cross": COLOURS[1]}.get(mark, INK)
    still.fitted(figure, EDGE, 0.94, above, SAID_PT, WIDE, 0.14)
    _marks(figure, [mark], EDGE + 0.045, 0.69, 26.0, colour)
    still.fitted(figure, EDGE + 0.115, 0.76, state, BIG_PT, WIDE - 0.12, 0.17, weight="bold", color=colour)
    still.fitted(figure, EDGE, 0.56, said, SAID_PT, WIDE, 0.25)
    if trials is not None:
        _trials(figure, trials)
    still.fitted(figure, EDGE, 0.105, below, SMALL_PT, WIDE, 0.05)
    return Still(figure)


def list_card(title: str, rows: Sequence[Row], below: str) -> Still:
    """A ranked list; each row is a group, in its order."""
    figure = still.empty()
    still.fitted(figure, EDGE, 0.93, title, 12.5, WIDE, 0.09, weight="bold")
    kept, groups = list(rows[:MOST_ROWS]), []
    step = min(0.105, 0.73 / max(len(kept), 1))
    word_pt = _one_line_pt(figure, [row.words for row in kept], ROW_PT, MARKS[0] - EDGE - 0.075, "bold")
    end_pt = _one_line_pt(figure, [row.end for row in kept], SMALL_PT, 1 - EDGE - MARKS[1] - 0.02, "normal")
    marks = max((len(row.marks) for row in kept), default=1)
    mark_pt = min(9.0, (MARKS[1] - MARKS[0]) * WIDTH_IN * 72 / max(marks, 1) / APART)
    for number, row in enumerate(kept, 1):
        y = 0.82 - step * (number - 0.5)
        group = [
            still.words(figure, EDGE + 0.035, y, f"{number}", ROW_PT, ha="right", color=FAINT),
            still.words(figure, EDGE + 0.055, y, row.words, word_pt, weight="bold" if row.bold else "normal"),
            still.words(figure, 1 - EDGE, y, row.end, end_pt, ha="right"),
        ]
        groups.append([*group, *_marks(figure, row.marks, MARKS[0] + 0.012, y, mark_pt, COLOURS[0])])
    still.fitted(figure, EDGE, 0.1, below, SMALL_PT - 0.5, WIDE, 0.035)
    return Still(figure, groups)


def _one_line_pt(figure: Any, texts: Sequence[str], size_pt: float, wide: float, weight: str) -> float:
    """The type in which each of these has room in one line."""
    widest = max((still.width(figure, text, size_pt, weight) for text in texts), default=0.0)
    return size_pt * min(1.0, wide / widest) if widest else size_pt


def _trials(figure: Any, trials: Trials) -> None:
    """A dot a trial, those that were right filled, and where enough begins; of many a bar."""
    y, left, right = 0.225, EDGE + 0.01, 1 - EDGE - 0.01
    step = (right - left) / max(trials.of, 1)
    if trials.of <= MOST_DOTS:
        size = min(12.0, 0.72 * step * WIDTH_IN * 72)
        step = min(step, 1.5 * size / 72 / WIDTH_IN)
        for place in range(trials.of):
            fill: Mark = "whole" if place < trials.right else "hollow"
            _marks(figure, [fill], left + step * (place + 0.5), y, size, COLOURS[0])
    else:
        _rule(figure, [left, right], [y, y], FAINT, 10.0)
        _rule(figure, [left, left + step * trials.right], [y, y], COLOURS[0], 10.0)
    if trials.needed is not None and 0 < trials.needed <= trials.of:
        at = left + step * trials.needed  # behind the last of them, where they are reached
        _rule(figure, [at, at], [y - 0.055, y + 0.055], INK, 1.6)
        near_end = at > 0.6
        still.words(
            figure, at + (-0.008 if near_end else 0.008), y + 0.062, f"{trials.needed} {trials.word}", SMALL_PT,
            ha="right" if near_end else "left",
        )  # fmt: skip


def _marks(figure: Any, marks: Sequence[Mark], x: float, y: float, size_pt: float, colour: str) -> list[Any]:
    """Shapes in a row; none beyond what the row has room for."""
    axes = _whole_frame(figure)
    apart = APART * size_pt / 72 / WIDTH_IN
    drawn = []
    for place, mark in enumerate(marks):
        drawn += axes.plot(
            [x + apart * place], [y], ls="", ms=size_pt, color=colour, mew=max(1.2, size_pt / 9),
            mfcalt="none", **FILLS[mark],
        )  # fmt: skip
    return drawn


def _rule(figure: Any, x: Sequence[float], y: Sequence[float], colour: str, width: float) -> None:
    _whole_frame(figure).plot(x, y, color=colour, lw=width, solid_capstyle="butt")


def _whole_frame(figure: Any) -> Any:
    """Axes without a frame that are the whole picture, in its parts."""
    if figure.axes:
        return figure.axes[0]
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    axes.set_autoscale_on(False)
    return axes
