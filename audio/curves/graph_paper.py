"""Pictures with axes and no curves yet: their proportion, title, caption and legend.

Frequency runs from 20 Hz to 20 kHz on a logarithmic axis; a decade is as long as 25 dB is high (IEC 60263's second
proportion, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from .frame import DB_PER_DECADE, LETTERS, LEVELS, NOTES, ROOM, WIDTH_IN, below, lines_of, shape
from .palette import GRID, INK, SMALL_PT, TEXT_PT, TITLE_PT
from .picture import paper
from .words import wrap

LONGEST_SPAN_DB, LEAST_SPAN_DB = 75.0, 20.0
SCALES_DB = (10.0, 25.0, 50.0)  # per decade: the proportions that IEC 60263 allows (from memory)
TICKS_HZ = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)
TICK_WORDS = ("20", "", "100", "", "500", "1k", "2k", "5k", "10k", "20k")


def frequency_axes(aspect: float, title: str, note: str) -> tuple[Any, Any]:
    """A picture with one axis of frequencies, as high as `aspect` times its width; the note stands under it."""
    figure = paper(high_in=(ROOM + max(aspect, 1.0)) * WIDTH_IN)
    axes = figure.add_subplot()
    ruled(axes, 0.6)
    axes.tick_params(labelsize=TEXT_PT)
    under(axes, "frequency, Hz", note)
    entitled(axes, title)
    shape(axes, aspect)
    return figure, axes


def ruled(axes: Any, width_pt: float) -> None:
    """Frequencies along an axis, with lines at its ticks."""
    axes.set_facecolor("none")
    axes.set_xscale("log")
    axes.set_xlim(20, 20_000)
    axes.set_xticks(TICKS_HZ, TICK_WORDS)
    axes.minorticks_off()
    axes.grid(True, which="major", color=GRID, lw=width_pt)


def level_axes(
    low: float, high: float, title: str, note: str, *, scales: Sequence[float] = SCALES_DB, tall: bool = False
) -> tuple[Any, Any]:
    """A picture with one axis of frequencies and one of levels from `low` to `high`, in the proportion of a standard.

    Parameters
    ----------
    scales
        In dB to a decade: of these it may take another than its own where it has a frame to fill.
    tall
        Whether a decibel stays as high as it is, however many there are: words stand above the levels.
    """
    span_db = high - low
    figure, axes = frequency_axes(span_db / DB_PER_DECADE / 3 if tall else proportion(span_db), title, note)
    axes.set_ylim(low, high)
    if tall or span_db <= LONGEST_SPAN_DB:
        LEVELS[figure] = low, high, scales
    return figure, axes


def under(axes: Any, label: str, note: str) -> None:
    """What the axis is, and the caption below it, broken into lines that stay on the picture."""
    axes.set_xlabel(below(label, lines_of(note, LETTERS)), fontsize=SMALL_PT, color=INK)
    NOTES[axes.figure] = label, note


def entitled(axes: Any, title: str) -> None:
    """The title above an axis, broken into lines."""
    words = "\n".join(wrap(title, LETTERS - 14))
    axes.set_title(words, fontsize=TITLE_PT, loc="left", color=INK, y=1.0)  # no ticks stand there to be measured first


def span(lowest: float, highest: float, most_db: float) -> tuple[float, float]:
    """The ends of a level axis, dB: no taller than what is shown needs, and at most `most_db`."""
    top = 5 * np.ceil((highest + 1) / 5)
    bottom = max(5 * np.floor((lowest - 1) / 5), top - most_db)
    return min(float(bottom), float(top) - min(LEAST_SPAN_DB, most_db)), float(top)


def proportion(span_db: float) -> float:
    """Height over width of three decades; spectra of more than 75 dB are no responses, and half as high as wide."""
    return span_db / DB_PER_DECADE / 3 if span_db <= LONGEST_SPAN_DB else 0.5


def legend(figure: Any, handles: Sequence[Any] | None = None, *, columns: int = 2) -> None:
    """The names below all axes, where they cover nothing."""
    own = list(handles) if handles is not None else [one for axes in figure.axes for one in axes.get_lines()]
    own += [one for axes in figure.axes for one in axes.patches if one.get_label()]
    own = [one for one in own if not str(one.get_label()).startswith("_")]
    if own:
        words = ["\n".join(wrap(str(one.get_label()), LETTERS // columns - 6)) for one in own]  # beside its line
        figure.legend(
            own, words, loc="outside lower center", ncols=min(columns, len(own)), fontsize=SMALL_PT, frameon=False
        )
