"""A picture: its paper and axes, palette, legend, caption, size and file. The one importer of matplotlib; no pyplot.

Frequency runs from 20 Hz to 20 kHz on a logarithmic axis; a decade is as long as 25 dB is high (IEC 60263's second
proportion, from memory). Type is sized so that it can be read on a telephone held upright, where a picture is 390
points wide, also between a page's margins.
Colours tell setups apart for the colour-blind too (after Okabe and Ito), and so do the line styles.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from textwrap import wrap
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np

from ..errors import FileError

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
WIDTH_IN = 4.4
LETTERS = 50  # of a caption's line in the smallest type, at that width
SETTLED = 1e-12  # of a picture's width: far below what is written of a place
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
WIDER: WeakKeyDictionary[Any, Callable[[], None]] = WeakKeyDictionary()
"""By picture: how it is laid out anew where it may be wider than high."""
BESIDE_LETTERS = 16  # of a legend's line beside the axes
SMALLER = (1.0, 1.15, 1.3, 1.5)  # type gets smaller by this where a picture cannot hold its words otherwise
LAID_OUT = 3  # times: the layout meets a fixed proportion step by step
LEAST_AXES = 0.42, 0.6  # of the picture's width, where that is wide and where it is square


@dataclass(frozen=True)
class Look:
    """How a picture is given out: one of `SIZES` ("": as it was drawn), on dark paper, on none at all."""

    size: str = ""
    dark: bool = False
    transparent: bool = False


PLAIN = Look()


def paper(wide_in: float = WIDTH_IN, high_in: float = 3 * WIDTH_IN) -> Any:
    """An empty picture, higher than it will be: `dressed` cuts off what is left empty."""
    from matplotlib.figure import Figure

    return Figure(figsize=(wide_in, high_in), layout="constrained", facecolor=PAPER)


def frequency_axes(aspect: float, title: str, note: str) -> tuple[Any, Any]:
    """A picture with one axis of frequencies, as high as `aspect` times its width; the note stands under it."""
    figure = paper()
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


def shape(axes: Any, aspect: float) -> None:
    """An axis of this height over width, at the top of its place: what is left over lies below all words."""
    axes.set_box_aspect(aspect)
    axes.set_anchor("N")


def under(axes: Any, label: str, note: str) -> None:
    """What the axis is, and the caption below it, broken into lines that stay on the picture."""
    axes.set_xlabel("\n".join([label, *_lines(note, LETTERS)]), fontsize=SMALL_PT, color=INK)
    NOTES[axes.figure] = label, note


def _lines(note: str, letters: int) -> list[str]:
    return [line for part in note.split("\n") for line in wrap(part, letters)]


def entitled(axes: Any, title: str) -> None:
    """The title above an axis, broken into lines."""
    axes.set_title("\n".join(wrap(title, LETTERS - 14)), fontsize=TITLE_PT, loc="left", color=INK)


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
    if look.size:
        if look.size not in SIZES:
            raise FileError(f"no picture size is called {look.size!r}; name one of {', '.join(SIZES)}")
        wide, high, dots = SIZES[look.size]
        landscape = high is not None and high < wide
        if landscape and figure in WIDER:
            WIDER[figure]()
        own = _height(figure)
        if figure.axes[0].get_box_aspect() is None and high:  # words cannot be squeezed: they get smaller
            larger = max(1.0, own / high, figure.get_figwidth() / wide)
            wide, high, dots = wide * larger, high * larger, dots / larger
        if high is None and figure.axes[0].get_box_aspect() is not None:
            own = _paged(figure, wide)
        figure.set_size_inches(wide, high or wide * own / figure.get_figwidth())
        figure.set_dpi(dots)
        if high and figure.axes[0].get_box_aspect() is not None:
            _fit(figure, landscape=landscape)
    else:
        figure.set_size_inches(figure.get_figwidth(), _height(figure))
        figure.set_dpi(1200 / WIDTH_IN)
    _settle(figure)
    figure.set_layout_engine("none")  # else it is laid out once more while it is written
    if look.dark:
        _darken(figure)
    if look.transparent:
        figure.set_facecolor("none")
    return figure


def _height(figure: Any) -> float:
    """As high as its axes and words need, inches: what is left empty is cut off."""
    _lay_out(figure)
    if any(axes.get_box_aspect() is None for axes in figure.axes[:1]):
        return float(figure.get_figheight())
    boxes = [axes.get_tightbbox() for axes in figure.axes]
    used = max(box.y1 for box in boxes) - min(box.y0 for box in boxes)
    own = sum(one.get_window_extent().height for one in figure.legends)
    return float((used + own) / figure.dpi + 0.3)


def _lay_out(figure: Any) -> None:
    """Find everything's place, without drawing it for that."""
    figure.get_layout_engine().execute(figure)


def _settle(figure: Any) -> None:
    """Lay out until nothing moves: a fixed proportion is met step by step, mostly with the first."""
    for _ in range(LAID_OUT):
        before = _places(figure)
        _lay_out(figure)
        if np.allclose(_places(figure), before, rtol=0, atol=SETTLED):
            return


def _places(figure: Any) -> Any:
    """Where the axes stand: left, bottom, width and height of each, as parts of the picture."""
    return np.array([axes.get_position().bounds for axes in figure.axes])


def _paged(figure: Any, wide: float) -> float:
    """The height that it needs at another width, inches; the caption broken into lines of that width."""
    label, note = NOTES[figure]
    lines = _lines(note, round(LETTERS * wide / WIDTH_IN))
    figure.axes[0].set_xlabel("\n".join([label, *lines]), fontsize=SMALL_PT, color=INK)
    figure.set_size_inches(wide, 3 * wide)
    return _height(figure)


def _fit(figure: Any, *, landscape: bool) -> None:
    """Type as large as leaves room for curves; in a wide picture the legend beside them, the caption across it all."""
    (wide, high), dots = figure.get_size_inches(), figure.dpi
    label, note = NOTES[figure]
    axes = figure.axes[0]
    for smaller in SMALLER:
        figure.set_size_inches(wide * smaller, high * smaller)
        figure.set_dpi(dots / smaller)
        lines = _lines(note, round(LETTERS * wide * smaller / WIDTH_IN))
        axes.set_xlabel("\n".join([label] if landscape else [label, *lines]), fontsize=SMALL_PT, color=INK)
        if landscape:
            figure.supxlabel("\n".join(lines), fontsize=SMALL_PT, color=INK)
            if figure.legends:
                _beside(figure)
        _settle(figure)
        axes.apply_aspect()
        words = figure._supxlabel if landscape else axes.xaxis.label
        legends = [one.get_window_extent() for one in figure.legends]
        apart = not any(one.overlaps(words.get_window_extent()) for one in legends)
        least = LEAST_AXES[0 if landscape else 1]
        if apart and axes.get_window_extent().width >= least * figure.bbox.width:
            return


def _beside(figure: Any) -> None:
    old = figure.legends[0]
    handles, words = list(old.legend_handles), [" ".join(text.get_text().split()) for text in old.get_texts()]
    old.remove()
    words = ["\n".join(wrap(word, BESIDE_LETTERS)) for word in words]
    figure.legend(
        handles, words, loc="outside right upper", ncols=1, fontsize=SMALL_PT, frameon=False, handlelength=1.6
    )


def _darken(figure: Any) -> None:
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
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    dressed(figure, look)
    if not look.dark:
        for part in (figure, *(one for axes in figure.axes for one in (axes, *axes.child_axes))):
            part.patch.set(facecolor="none", edgecolor="none")
    out = BytesIO()
    with mpl.rc_context({"svg.hashsalt": "earwitness", "svg.fonttype": "none"}):
        # as `savefig` does it, which would draw everything twice once a layout was used
        canvas: Any = FigureCanvasSVG(figure)
        canvas.print_svg(out, metadata={"Date": None, "Creator": None})
    text = out.getvalue().decode()
    return text[text.index("<svg") :]


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
