"""Stills for video: a frame whose parts lie at the same pixels whatever is drawn in it, so that cuts line up.

All of it stays within the middle 90 % of width and height: the graphics safe area of EBU R 95 and the safe title area
of SMPTE ST 2046-1 (both from memory). Curves are groups that are shown one after the other (`steps`), with nothing else
moving. On `picture`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from ..errors import FileError
from . import palette, picture
from .curve import Curve
from .frame import SIZES
from .graph_paper import TICK_WORDS, TICKS_HZ
from .palette import FAINT, GRID, HATCH, INK, PAPER
from .words import shortened, wrap

SAFE = 0.05  # of width and height, at each edge, left free
EDGE = 0.06  # where words begin: paper around them still lies within
WIDTH_IN, HEIGHT_IN = 4.9, 4.9 * 9 / 16
FRAMES = ("1920x1080", "3840x2160")
LEFT, RIGHT, BOTTOM, TOP = 0.175, 0.915, 0.37, 0.86  # of the axes, in parts of the frame; our choice
DECADES = 3.0
TITLE_PT, TEXT_PT, NOTE_PT = 12.5, 10.0, 7.5
LINE_PT, HALO_PT = 2.2, 2.6
SMALLEST = 0.7  # of a line of words that needs more room: below that it is shortened
NAME_ROWS, ROW = 2, 0.058  # of names below the axes
MOST_NAMED = 6
NARROWEST = 2 ** (1 / 24)


@dataclass(frozen=True)
class Axis:
    """A vertical axis that all stills of a kind share: its ends, its ticks, and what it is."""

    low: float
    high: float
    ticks: Sequence[float]
    label: str


@dataclass(frozen=True, eq=False)
class Still:
    """A picture in its frame, and the groups of what is drawn in it that can be shown one after the other."""

    figure: Any
    groups: list[list[Any]] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Line:
    """One curve: what it is called (empty: it has no name below), its points, and how it is drawn.

    `valid` says at which points it can be relied on; elsewhere it is faint.
    """

    name: str
    hz: Any
    values: Any
    valid: Any
    colour: str
    style: Any = "-"
    width: float = LINE_PT


def db_over(decades_db: float) -> float:
    """How many decibels the axes are high where a decade is as long as so many (IEC 60263, from memory)."""
    aspect = (TOP - BOTTOM) * HEIGHT_IN / ((RIGHT - LEFT) * WIDTH_IN)
    return DECADES * decades_db * aspect


def curve_line(name: str, curve: Curve, place: int) -> Line:
    """A response as a line, by its place among others."""
    colour, style = palette.line_look(place)
    return Line(name, curve.hz, curve.level_db, curve.valid(), colour, style)


def framed(
    lines: Sequence[Line],
    axis: Axis,
    *,
    title: str,
    note: str = "",
    valid_hz: tuple[float, float] = (0.0, np.inf),
    zero: bool = False,
    together: bool = False,
) -> Still:
    """Curves against frequency in the frame.

    Parameters
    ----------
    valid_hz
        The band in which all of them can be relied on: beyond it is hatched.
    zero
        Whether a bold line stands at 0.
    together
        Whether all lines are one group: none is shown before another.
    """
    figure = empty()
    axes = figure.add_axes((LEFT, BOTTOM, RIGHT - LEFT, TOP - BOTTOM))
    axes.set_facecolor("none")
    axes.set_xscale("log")
    axes.set_xlim(20, 20_000)
    axes.set_ylim(axis.low, axis.high)
    axes.set_xticks(TICKS_HZ, TICK_WORDS)
    axes.set_yticks(list(axis.ticks))
    axes.minorticks_off()
    axes.grid(True, which="major", color=GRID, lw=0.8)
    axes.tick_params(labelsize=TEXT_PT, colors=INK)
    for side, spine in axes.spines.items():
        spine.set_color(FAINT)
        spine.set_visible(side in ("left", "bottom"))
    for start, end in ((20.0, valid_hz[0]), (valid_hz[1], 20_000.0)):
        if end > start * NARROWEST:
            axes.axvspan(start, end, facecolor="none", edgecolor=HATCH, hatch="////", lw=0, zorder=0)
    if zero:
        axes.axhline(0, color=INK, lw=2.0, zorder=1.8, alpha=0.99)
    one_line(figure, (EDGE, 0.905), title, TITLE_PT, 1 - 2 * EDGE, weight="bold")
    words(figure, (LEFT + RIGHT) / 2, 0.247, "frequency, Hz", TEXT_PT, ha="center")
    words(figure, EDGE + 0.012, (BOTTOM + TOP) / 2, axis.label, TEXT_PT, ha="center", rotation=90)
    one_line(figure, (EDGE, 0.08), note, NOTE_PT, 1 - 2 * EDGE)
    named = [line.name for line in lines if line.name]
    groups = [_drawn(axes, line, named) for line in lines]
    return Still(figure, [[one for group in groups for one in group]] if together else groups)


def empty() -> Any:
    """An empty frame, in which nothing is moved."""
    figure = picture.paper(WIDTH_IN, HEIGHT_IN)
    figure.set_layout_engine("none")
    figure.set_dpi(SIZES[FRAMES[0]][2])  # in coarser dots words are wider or narrower than they are drawn
    return figure


def words(figure: Any, x: float, y: float, text: str, size_pt: float, **how: Any) -> Any:
    """Words in the frame, at parts of it."""
    return figure.text(x, y, text, fontsize=size_pt, **({"color": INK, "ha": "left", "va": "center"} | how))


def fitted(figure: Any, x: float, y: float, text: str, size_pt: float, wide: float, high: float, **how: Any) -> Any:
    """Words broken into lines in a box of the frame, from its top; in smaller type where they need it."""
    for share in (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.42):
        letters = max(8, int(wide * WIDTH_IN * 72 / (0.6 * size_pt * share)))
        drawn = words(figure, x, y, "\n".join(wrap(text, letters)), size_pt * share, **({"va": "top"} | how))
        own_wide, own_high = _size(figure, drawn)
        if own_wide <= wide and own_high <= high:
            return drawn
        drawn.remove()
    kept = shortened(text, int(len(text) * 0.6))
    return fitted(figure, x, y, f"{kept} …", size_pt, wide, high, **how)


def one_line(figure: Any, at: tuple[float, float], text: str, size_pt: float, wide: float, **how: Any) -> Any:
    """A line of words in so much room: in smaller type, and then shortened, where it needs more."""
    weight = how.get("weight", "normal")
    whole = width(figure, text, size_pt, weight)
    if whole * SMALLEST > wide:
        text = f"{shortened(text, int(len(text) * wide / SMALLEST / whole) - 2)} …"
        whole = width(figure, text, size_pt, weight)
    return words(figure, *at, text, size_pt * min(1.0, wide / whole) if whole else size_pt, **how)


def width(figure: Any, text: str, size_pt: float, weight: str = "normal") -> float:
    """How wide a line of words is, in parts of the frame."""
    drawn = words(figure, 0, 0, text, size_pt, weight=weight)
    wide = _size(figure, drawn)[0]
    drawn.remove()
    return wide


def steps(still: Still) -> Iterator[int]:
    """Show nothing of the groups, then one more with each step; the number of groups shown."""
    for group in still.groups:
        _show(group, seen=False)
    yield 0
    for number, group in enumerate(still.groups, 1):
        _show(group, seen=True)
        yield number


def dressed(still: Still, *, dark: bool = False, opaque: bool = False) -> Still:
    """The still in its colours; on no paper, unless it is opaque, with paper around words and lines."""
    if dark:
        picture.darken(still.figure)
    colour = palette.ON_DARK[PAPER] if dark else PAPER
    if opaque:
        still.figure.set_facecolor(colour)
        return still
    still.figure.set_facecolor("none")
    halos = picture.outline(still.figure, colour)
    for group in still.groups:
        group += [halos[one] for one in group if one in halos]
    return still


def write(still: Still, path: Path, size: str, *, opaque: bool = False) -> None:
    """Write the still as PNG, as large as the frame.

    Raises
    ------
    FileError
        If there is no such frame, or it cannot be written.
    """
    if size not in FRAMES:
        raise FileError(f"no frame is called {size!r}; name one of {', '.join(FRAMES)}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        still.figure.savefig(
            path, format="png", dpi=SIZES[size][2], transparent=not opaque, metadata={"Software": None}
        )
    except OSError as error:
        raise FileError(f"cannot write {path}: {error.strerror}; name another place") from error


def taller(axis: Axis, lines: Sequence[Line], step: float) -> Axis:
    """The axis, moved up by whole steps until it holds the tops of all these lines."""
    top = max((highest(one) for one in lines), default=axis.high)
    up = step * float(np.ceil(max(top - axis.high, 0.0) / step))
    return Axis(axis.low + up, axis.high + up, [tick + up for tick in axis.ticks], axis.label)


def highest(line: Line) -> float:
    """The highest of what is heard of a line and can be relied on."""
    seen = line.valid & (line.hz >= 20) & (line.hz <= 20_000) & np.isfinite(line.values)
    return float(line.values[seen].max()) if seen.any() else -np.inf


def _drawn(axes: Any, line: Line, named: Sequence[str]) -> list[Any]:
    """A line, its faint parts, and its name below the axes with a piece of it: what is shown together."""
    figure = axes.figure
    group = list(
        axes.plot(line.hz, np.where(line.valid, line.values, np.nan), color=line.colour, ls=line.style, lw=line.width)
    )
    if not line.valid.all():
        faint = np.where(line.valid, np.nan, line.values)
        group += axes.plot(line.hz, faint, color=line.colour, lw=0.8, alpha=0.35)
    if line.name not in named[:MOST_NAMED]:
        return group
    columns = 2 if len(named) <= 2 * NAME_ROWS else 3
    place = named.index(line.name)
    wide = (1 - 2 * EDGE) / columns
    x, y = EDGE + wide * (place % columns), 0.188 - ROW * (place // columns)
    sample = axes.plot(
        [x, x + 0.07], [y, y], color=line.colour, ls=line.style, lw=line.width,
        transform=figure.transFigure, clip_on=False, scalex=False, scaley=False,
    )  # fmt: skip
    return [*group, *sample, one_line(figure, (x + 0.082, y), line.name, TEXT_PT, wide - 0.1)]


def _show(group: Sequence[Any], *, seen: bool) -> None:
    for one in group:
        one.set_visible(seen)


def _size(figure: Any, drawn: Any) -> tuple[float, float]:
    box = drawn.get_window_extent(figure.canvas.get_renderer())
    return box.width / figure.bbox.width, box.height / figure.bbox.height
