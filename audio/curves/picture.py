"""A picture: its paper and axes, palette, legend, caption, size and file. The one importer of matplotlib; no pyplot.

Frequency runs from 20 Hz to 20 kHz on a logarithmic axis; a decade is as long as 25 dB is high (IEC 60263's second
proportion, from memory). Type is sized so that it can be read on a telephone held upright, where a picture is 390
points wide, also between a page's margins.
Colours tell setups apart for the colour-blind too (after Okabe and Ito), and so do the line styles.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from io import StringIO
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np

from ..errors import FileError
from . import layout
from .layout import Surroundings
from .words import shortened, wrap

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
DB_PER_DECADE, LONGEST_SPAN_DB, LEAST_SPAN_DB = 25.0, 75.0, 20.0
SCALES_DB = (10.0, 25.0, 50.0)  # per decade: the proportions that IEC 60263 allows (from memory)
LEVEL_STEPS_DB, MOST_LEVELS = (1, 2, 5, 10, 20, 50), 9
NARROWER = 1.3  # at most, an axis is by this narrower than its place before it takes the next scale
WIDTH_IN = 4.4
ROOM = 2.0  # of a picture's width, for all that surrounds its axes; what is left empty is cut off
LETTERS = 50  # of a caption's line in the smallest type, at that width
TITLE_PT, TEXT_PT, SMALL_PT = 11.0, 10.0, 10.0
TICKS_HZ = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)
TICK_WORDS = ("20", "", "100", "", "500", "1k", "2k", "5k", "10k", "20k")
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
HALO_PT = 2.6  # of paper around words and lines on no paper
KEPT_TICKS_HZ = (
    100,
    1000,
    10_000,
    20,
    500,
    2000,
    5000,
    20_000,
    200,
    50,
)  # those that are worded first where room is short
APART_PT = 3.0  # between two of them


@dataclass(frozen=True)
class Look:
    """How a picture is given out: one of `SIZES` ("": as it was drawn), on dark paper, on none at all."""

    size: str = ""
    dark: bool = False
    transparent: bool = False


PLAIN = Look()


def paper(wide_in: float = WIDTH_IN, high_in: float = 3 * WIDTH_IN) -> Any:
    """An empty picture, higher than it will be: `dressed` cuts off what is left empty."""
    load()
    from matplotlib.figure import Figure

    figure = Figure(figsize=(wide_in, high_in), layout="constrained", facecolor=PAPER)
    _measuring_canvas()(figure)
    return figure


@cache
def load() -> None:
    """Load all that draws, which takes longer than a picture; without the manual pages that it writes of itself.

    Drawn is by the library's own settings: a `matplotlibrc` of this user or folder changes no picture.
    """
    import matplotlib as mpl
    from matplotlib import artist

    # what `rcdefaults` does, which first reads all styles of the library
    own_settings = ((name, value) for name, value in mpl.rcParamsDefault.items() if name != "backend")
    mpl.rcParams.update({name: value for name, value in own_settings if mpl.rcParams[name] != value})

    own, artist.kwdoc = artist.kwdoc, lambda artist: ""
    try:
        import matplotlib.backends.backend_svg
        import matplotlib.figure  # noqa: F401

        _measuring_canvas()
    finally:
        artist.kwdoc = own


@cache
def _measuring_canvas() -> Any:
    """A canvas on which words are measured, once for all pictures of as many dots: it has no room to draw on.

    Words keep the ruler that first measured them, of as many dots as their picture had then; the heights of their lines
    follow from the dots that it has now.
    """
    from matplotlib.backend_bases import FigureCanvasBase
    from matplotlib.backends.backend_agg import RendererAgg

    agg: Any = RendererAgg

    first = cache(lambda dots: agg(1, 1, dots))
    size = cache(lambda dots, *words: first(dots).get_text_width_height_descent(*words))

    class Ruler(agg):  # type: ignore[misc]
        def __init__(self, figure: Any) -> None:
            super().__init__(1, 1, figure.dpi)
            self.figure = figure

        def get_text_width_height_descent(self, s: str, prop: Any, ismath: Any) -> Any:
            return size(self.dpi, s, prop.copy(), ismath)

        def _get_font_height_metrics(self, font: Any) -> Any:
            return _line_heights(font.copy(), self.figure.dpi)

    class MeasuringCanvas(FigureCanvasBase):
        def __init__(self, figure: Any) -> None:
            super().__init__(figure)
            self.rulers = dict[float, Ruler]()

        def get_renderer(self) -> Any:
            dots = self.figure.dpi
            if dots not in self.rulers:
                self.rulers[dots] = Ruler(self.figure)
            return self.rulers[dots]

    return MeasuringCanvas


def frequency_axes(aspect: float, title: str, note: str) -> tuple[Any, Any]:
    """A picture with one axis of frequencies, as high as `aspect` times its width; the note stands under it."""
    figure = paper(high_in=(ROOM + max(aspect, 1.0)) * WIDTH_IN)
    axes = figure.add_subplot()
    axes.set_facecolor("none")
    axes.set_xscale("log")
    axes.set_xlim(20, 20_000)
    axes.set_xticks(TICKS_HZ, TICK_WORDS)
    axes.minorticks_off()
    axes.grid(True, which="major", color=GRID, lw=0.6)
    axes.tick_params(labelsize=TEXT_PT)
    under(axes, "frequency, Hz", note)
    entitled(axes, title)
    shape(axes, aspect)
    return figure, axes


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


def shape(axes: Any, aspect: float) -> None:
    """An axis of this height over width, at the top of its place: what is left over lies below all words."""
    axes.set_box_aspect(aspect)
    axes.set_anchor("N")


def under(axes: Any, label: str, note: str) -> None:
    """What the axis is, and the caption below it, broken into lines that stay on the picture."""
    axes.set_xlabel(_below(label, _lines(note, LETTERS)), fontsize=SMALL_PT, color=INK)
    NOTES[axes.figure] = label, note


def _below(label: str, lines: Sequence[str]) -> str:
    return "\n".join([label, "", *lines]) if lines else label


def _lines(note: str, letters: int) -> list[str]:
    return [line for part in note.split("\n") for line in wrap(part, letters)]


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


def line_look(place: int) -> tuple[str, Any]:
    """Colour and style of a line by its place among others: once all colours are used, they come with other styles."""
    return COLOURS[place % len(COLOURS)], STYLES[(place + place // len(COLOURS)) % len(STYLES)]


def map_colours() -> Any:
    """Our own palette for maps: from dark to light."""
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list("earwitness", SEQUENCE)


def shade(share: float) -> str:
    """The colour of a line, from the first (0) to the last (1) of a family."""
    from matplotlib.colors import LinearSegmentedColormap, to_hex

    return str(to_hex(LinearSegmentedColormap.from_list("family", SHADES)(share)))


def dressed(figure: Any, look: Look) -> Any:
    """The picture in another size or colours.

    Raises
    ------
    FileError
        If there is no such size.
    """
    around: Surroundings | None = None
    if look.size:
        if look.size not in SIZES:
            raise FileError(f"no picture size is called {look.size!r}; name one of {', '.join(SIZES)}")
        wide, high, dots = SIZES[look.size]
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
    _thin_out(figure)
    figure.set_layout_engine("none")  # else it is laid out once more while it is written
    if look.dark:
        darken(figure)
    if look.transparent:
        figure.set_facecolor("none")
        outline(figure, ON_DARK[PAPER] if look.dark else PAPER)
    return figure


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
    lines = _lines(note, round(LETTERS * wide / WIDTH_IN))
    figure.axes[0].set_xlabel(_below(label, lines), fontsize=SMALL_PT, color=INK)
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
        if most != MOST_LINES[0] and most >= len(_lines(NOTES[figure][1], letters)):
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
    lines = _lines("; ".join(filter(None, (note, scale))), letters)
    CUT.pop(figure, None)
    if len(lines) > most:
        CUT[figure] = note
        end = f" …; {scale}" if scale else " …"  # a scale of its own is always told
        lines = [*lines[: most - 1], shortened(lines[most - 1], letters - len(end)) + end]
    figure.axes[0].set_xlabel(label if across else _below(label, lines), fontsize=SMALL_PT, color=INK)
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


def _thin_out(figure: Any) -> None:
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


def outline(figure: Any, paper_colour: str) -> dict[Any, Any]:
    """Paper around words and lines, so that they are read on anything; around curves it lies below all of them.

    Returns
    -------
    dict
        By curve: the line of paper below it.
    """
    from matplotlib.lines import Line2D
    from matplotlib.patheffects import Normal, Stroke
    from matplotlib.spines import Spine
    from matplotlib.text import Text

    curves = [line for axes in figure.axes for line in axes.get_lines() if line.get_alpha() is None]
    grid = [line for axes in figure.axes for line in (*axes.get_xgridlines(), *axes.get_ygridlines())]
    apart = {id(one) for one in (*(line for axes in figure.axes for line in axes.get_lines()), *grid)}
    for one in figure.findobj(lambda found: isinstance(found, (Line2D, Spine, Text)) and id(found) not in apart):
        wide = 0.0 if isinstance(one, Text) else one.get_linewidth()
        one.set_path_effects([Stroke(linewidth=wide + HALO_PT, foreground=paper_colour), Normal()])
    halos = {}
    for line in curves:
        below = halos[line] = Line2D(
            *line.get_data(), color=paper_colour, lw=line.get_linewidth() + HALO_PT, ls="-", zorder=1.5
        )
        below.set(label="_halo", transform=line.get_transform())
        line.axes.add_line(below)
    return halos


def _beside(figure: Any) -> None:
    old = figure.legends[0]
    handles, words = list(old.legend_handles), [" ".join(text.get_text().split()) for text in old.get_texts()]
    old.remove()
    if words == [" ".join(figure.axes[0].get_title(loc="left").split())]:
        return  # a single line, which the title names: room that axes and type can use
    words = ["\n".join(wrap(word, BESIDE_LETTERS)) for word in words]
    figure.legend(
        handles, words, loc="outside right upper", ncols=1, fontsize=SMALL_PT, frameon=False, handlelength=1.6
    )


def darken(figure: Any) -> None:
    """Every colour of the light palette by its counterpart; what has none is seen on both."""
    from matplotlib.colors import to_hex, to_rgba

    def other(colour: Any) -> Any:
        alpha = to_rgba(colour)[3]
        found = ON_DARK.get(to_hex(colour))
        return colour if found is None or alpha == 0 else to_rgba(found, alpha)

    for axes in figure.axes:  # also what an axis will draw when it is laid out anew
        axes.tick_params(which="both", colors=ON_DARK[INK], grid_color=ON_DARK[GRID])
    for one in figure.findobj():
        for name in ("color", "facecolor", "edgecolor", "markerfacecolor", "markeredgecolor"):
            get, put = getattr(one, f"get_{name}", None), getattr(one, f"set_{name}", None)
            if get is None or put is None:
                continue
            own = get()
            if isinstance(own, np.ndarray) and own.ndim == 2:
                if len(own) > 0 and not hasattr(one, "levels"):
                    put([other(colour) for colour in own])
            elif own is not None and not isinstance(own, list):
                put(other(own))


def is_hatched(figure: Any) -> bool:
    """Whether anything in the figure is hatched."""
    return any(drawn.get_hatch() for axes in figure.axes for drawn in (*axes.patches, *axes.collections))


def svg(figure: Any, look: Look = PLAIN) -> str:
    """The figure as SVG text, the same on every run; on no paper, unless that is dark."""
    import matplotlib as mpl

    dressed(figure, look)
    if not look.dark:
        for part in (figure, *(one for axes in figure.axes for one in (axes, *axes.child_axes))):
            part.patch.set(facecolor="none", edgecolor="none")
    out = StringIO()
    with mpl.rc_context({"svg.hashsalt": "earwitness", "svg.fonttype": "none"}):
        # as the canvas does it: `savefig` would draw everything twice once a layout was used
        wide_in, high_in = figure.get_size_inches()
        metadata = {"Date": None, "Creator": None}
        renderer = _writer()(72 * wide_in, 72 * high_in, out, image_dpi=figure.dpi, metadata=metadata)
        figure.dpi = 72
        with layout.ticked_once([one for axes in figure.axes for one in (axes, *axes.child_axes)]):
            figure.draw(renderer)
        renderer.finalize()
    text = out.getvalue()
    return text[text.index("<svg") :]


@cache
def _writer() -> Any:
    """What writes SVG; it measures words once for all pictures, as their size follows from the font alone."""
    from matplotlib.backends.backend_svg import RendererSVG
    from matplotlib.textpath import text_to_path

    size = cache(text_to_path.get_text_width_height_descent)
    svg_renderer: Any = RendererSVG

    class Writer(svg_renderer):  # type: ignore[misc]
        def get_text_width_height_descent(self, s: str, prop: Any, ismath: Any) -> Any:
            return size(s, prop.copy(), ismath)  # a copy, which nobody changes

        def _get_font_height_metrics(self, font: Any) -> Any:
            return _line_heights(font.copy(), 72)

    return Writer


@cache
def _line_heights(font: Any, dots: float) -> tuple[float | None, float | None, float | None]:
    """How far a line reaches above and below in that font, and the gap to the next, in dots.

    By the font's own table, as the library does it for each words anew; nothing where the font has no such table.
    """
    from matplotlib.font_manager import fontManager, get_font

    file = get_font(fontManager.findfont(font))
    table, head = file.get_sfnt_table("OS/2"), file.get_sfnt_table("head")
    if table is None or head is None:
        return None, None, None
    scale = 1 / head["unitsPerEm"] * font.get_size_in_points() * dots / 72
    return table["sTypoAscender"] * scale, -table["sTypoDescender"] * scale, table["sTypoLineGap"] * scale


def write(figure: Any, path: Path, look: Look = PLAIN) -> None:
    """Write the figure as SVG or PNG, by the file's ending.

    Raises
    ------
    FileError
        If the ending is another, there is no such size, or the file cannot be written.
    """
    check_ending(path)
    try:
        if path.suffix.lower() == ".svg":
            path.write_text(svg(figure, look), encoding="utf-8")
        else:
            dressed(figure, look)
            figure.savefig(path, format="png", dpi=figure.dpi, transparent=look.transparent)
    except OSError as error:
        raise FileError(f"cannot write {path}: {error.strerror}; name another place") from error


def check_ending(path: Path) -> None:
    """Nothing, if a picture can be written under that name.

    Raises
    ------
    FileError
        If its ending is of another kind of file.
    """
    if path.suffix.lower() not in (".svg", ".png"):
        raise FileError(f"{path}: pictures are written as .svg or .png; name one of them")
