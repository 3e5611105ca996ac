"""A picture in its frame: its size, axes that fill it, and words in as many lines as there is room for.

Type is sized so that it can be read on a telephone held upright, where a picture is 390 points wide, also between a
page's margins. Nothing of the library that draws is imported here: what `picture` makes is handed in.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np

from ..errors import FileError
from . import layout
from .layout import Surroundings
from .palette import INK, SMALL_PT
from .words import shortened, wrap

DB_PER_DECADE = 25.0  # the proportion that `graph_paper` takes where nothing else is asked for
LEVEL_STEPS_DB, MOST_LEVELS = (1, 2, 5, 10, 20, 50), 9
NARROWER = 1.3  # at most, an axis is by this narrower than its place before it takes the next scale
WIDTH_IN = 4.4
ROOM = 2.0  # of a picture's width, for all that surrounds its axes; what is left empty is cut off
LETTERS = 50  # of a caption's line in the smallest type, at that width
SIZES: dict[str, tuple[float, float | None, float]] = {
    "1920x1080": (4.9, 4.9 * 9 / 16, 1920 / 4.9),
    "3840x2160": (4.9, 4.9 * 9 / 16, 3840 / 4.9),
    "square": (4.9, 4.9, 1080 / 4.9),
    "page": (6.3, None, 300.0),
}
"""By name: width and height in inches (None: as high as it needs) and pixels to the inch. The page is A4 in text."""
NOTES: WeakKeyDictionary[Any, tuple[str, str]] = WeakKeyDictionary()
"""By picture: what its axis is, and its caption as it was given, to be broken into other lines at another size."""
TABLES: WeakKeyDictionary[Any, Callable[[float, float], None]] = WeakKeyDictionary()
"""By picture of words alone: how it is laid out anew for a frame of this width and height, inches."""
LEVELS: WeakKeyDictionary[Any, tuple[float, float, Sequence[float]]] = WeakKeyDictionary()
"""By picture whose proportion is fixed: what its level axis has to hold, dB, and the scales that it may take."""
CUT: WeakKeyDictionary[Any, str] = WeakKeyDictionary()
"""By picture whose caption was cut for its frame: the whole caption, which is to be told beside the picture."""
BESIDE_LETTERS = 16  # of a legend's line beside the axes
MOST_LINES = (6, 4, 3, 2, 1)  # of a caption: it is cut before type gets smaller than can be read on a telephone
SMALLER = (1.0, 1.15, 1.3, 1.5)  # type gets smaller by this where a picture cannot hold its other words otherwise
LARGEST_WORDS = 0.6  # of a table: it is enlarged by no more than one over this
LEAST_AXES = 0.38, 0.4  # of the picture's area, where that is wide and where it is square
# those that are worded first where room is short
KEPT_TICKS_HZ = (100, 1000, 10_000, 20, 500, 2000, 5000, 20_000, 200, 50)
APART_PT = 3.0  # between two of them


def shape(axes: Any, aspect: float) -> None:
    """An axis of this height over width, at the top of its place: what is left over lies below all words."""
    axes.set_box_aspect(aspect)
    axes.set_anchor("N")


def below(label: str, lines: Sequence[str]) -> str:
    """An axis's name with the lines of a caption under it."""
    return "\n".join([label, "", *lines]) if lines else label


def lines_of(note: str, letters: int) -> list[str]:
    """A caption in lines of so many letters."""
    return [line for part in note.split("\n") for line in wrap(part, letters)]


def sized(figure: Any, size: str) -> None:
    """Lay the picture out for one of `SIZES` ("": as it was drawn, and as high as it needs).

    Raises
    ------
    FileError
        If there is no such size.
    """
    around: Surroundings | None = None
    if size:
        if size not in SIZES:
            raise FileError(f"no picture size is called {size!r}; name one of {', '.join(SIZES)}")
        wide, high, dots = SIZES[size]
        if figure in TABLES:
            TABLES[figure](wide, high or 0.0)
            larger = max(LARGEST_WORDS, figure.get_figwidth() / wide, figure.get_figheight() / high if high else 0.0)
            figure.set_size_inches(wide * larger, high * larger if high else figure.get_figheight())
            figure.set_dpi(dots / larger)
        elif high:
            _fit(figure, wide, high, dots)
        else:
            figure.set_dpi(dots)
            around = _paged(figure, wide)
    else:
        figure.set_dpi(1200 / WIDTH_IN)
        high, around = _height(figure)
        figure.set_size_inches(figure.get_figwidth(), high)
    layout.settle(figure, around or layout.measured(figure))
    thin_out(figure)


def _height(figure: Any) -> tuple[float, Surroundings]:
    """As high as its axes and words need, inches: what is left empty is cut off; and what was measured for that."""
    around = layout.measured(figure)
    layout.placed(figure, around)
    if figure in TABLES or figure.axes[0].get_box_aspect() is None:
        return float(figure.get_figheight()), around
    return layout.height_px(figure, around) / figure.dpi + 0.3, around


def _paged(figure: Any, wide: float) -> Surroundings:
    """As wide as that and as high as it then needs; the caption broken into lines of that width."""
    label, note = NOTES[figure]
    lines = lines_of(note, round(LETTERS * wide / WIDTH_IN))
    figure.axes[0].set_xlabel(below(label, lines), fontsize=SMALL_PT, color=INK)
    figure.set_size_inches(wide, (ROOM + max(figure.axes[0].get_box_aspect() or 1.0, 1.0)) * wide)
    high, around = _height(figure)
    figure.set_size_inches(wide, high)
    return around


def _fit(figure: Any, wide: float, high: float, dots: float) -> None:
    """Axes that fill the frame, and type as large as leaves room for them; a caption too long for that is cut first.

    Where the frame is wide the legend stands beside the axes, and the caption across it all.
    """
    landscape = high < wide
    if landscape and figure.legends:
        _beside(figure)
    for smaller, most in ((one, lines) for one in SMALLER for lines in MOST_LINES):
        letters = round(LETTERS * wide * smaller / WIDTH_IN)
        if most != MOST_LINES[0] and most >= len(lines_of(NOTES[figure][1], letters)):
            continue  # it is as short already
        figure.set_size_inches(wide * smaller, high * smaller)
        figure.set_dpi(dots / smaller)
        _captioned(figure, letters, "", most, across=landscape)
        scale = _filled(figure)
        if scale and scale != DB_PER_DECADE:
            _captioned(figure, letters, f"{scale:g} dB to a decade", most, across=landscape)
            _filled(figure, (scale,))
        layout.settle(figure, layout.measured(figure))
        axes = figure.axes[0].get_window_extent()
        if axes.width * axes.height >= LEAST_AXES[0 if landscape else 1] * figure.bbox.width * figure.bbox.height:
            return


def _captioned(figure: Any, letters: int, scale: str, most: int, *, across: bool) -> None:
    """The caption in at most so many lines of so many letters: across the whole picture, or below the axis."""
    label, note = NOTES[figure]
    lines = lines_of("; ".join(filter(None, (note, scale))), letters)
    CUT.pop(figure, None)
    if len(lines) > most:
        CUT[figure] = note
        end = f" …; {scale}" if scale else " …"  # a scale of its own is always told
        lines = [*lines[: most - 1], shortened(lines[most - 1], letters - len(end)) + end]
    figure.axes[0].set_xlabel(label if across else below(label, lines), fontsize=SMALL_PT, color=INK)
    if across:
        figure.supxlabel("\n".join(lines), fontsize=SMALL_PT, color=INK)


def _filled(figure: Any, scales: Sequence[float] | None = None) -> float:
    """Let the axes fill their place; levels show more than they need for it, at the scale returned (0: no levels)."""
    shaped = [axes for axes in figure.axes if axes.get_box_aspect() is not None]
    for axes in shaped:
        axes.set_box_aspect(None)
    layout.placed(figure, layout.measured(figure))
    place = shaped[0].get_window_extent()
    aspect, scale = place.height / place.width, 0.0
    if figure in LEVELS:
        low, high, allowed = LEVELS[figure]
        least = (high - low) / NARROWER
        able = [one for one in scales or allowed if 3 * one * aspect >= least]
        scale = min(able, default=max(scales or allowed))
        shown = max(high - low, 3 * scale * aspect)
        aspect = shown / scale / 3
        above = (
            (shown - high + low) / 3 if len(allowed) > 1 and len(shaped) == 1 else 0.0
        )  # else its foot or head is taken
        shaped[0].set_ylim(high + above - shown, high + above)
        step = next(step for step in LEVEL_STEPS_DB if shown / step <= MOST_LEVELS)
        bottom, top = shaped[0].get_ylim()
        shaped[0].set_yticks(np.arange(step * np.ceil(bottom / step), top + 0.01, step))
        for index in shaped[1:]:  # with as many dB to the height, from the foot
            index.set_ylim(index.get_ylim()[0], index.get_ylim()[0] + shown)
    for axes in shaped:
        shape(axes, aspect)
    return scale


def thin_out(figure: Any) -> None:
    """Leave out words of the frequency axis that would touch others."""
    axes = figure.axes[0]
    if axes.get_xscale() != "log" or figure in TABLES:
        return
    apart, kept = APART_PT / 72 * figure.dpi, list[Any]()
    words, thinned = dict(zip(axes.get_xticks(), axes.get_xticklabels(), strict=True)), False
    for hz in KEPT_TICKS_HZ:
        if not words[hz].get_text():
            continue
        box = words[hz].get_window_extent()
        if any(box.x0 < other.x1 + apart and other.x0 < box.x1 + apart for other in kept):
            words[hz].set_text("")
            thinned = True
        else:
            kept.append(box)
    if thinned:
        axes.set_xticks(list(words), [word.get_text() for word in words.values()])


def _beside(figure: Any) -> None:
    old = figure.legends[0]
    handles, words = list(old.legend_handles), [" ".join(text.get_text().split()) for text in old.get_texts()]
    old.remove()
    title = " ".join(figure.axes[0].get_title(loc="left").split())
    if words in ([title], [title.rpartition("; ")[0]]):
        return  # a single line, which the title names: room that axes and type can use
    words = ["\n".join(wrap(word, BESIDE_LETTERS)) for word in words]
    figure.legend(
        handles, words, loc="outside right upper", ncols=1, fontsize=SMALL_PT, frameon=False, handlelength=1.6
    )
