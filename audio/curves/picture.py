"""A picture: its paper and axes, palette, legend, caption, size and file. The one importer of matplotlib; no pyplot.

Frequency runs from 20 Hz to 20 kHz on a logarithmic axis; a decade is as long as 25 dB is high (IEC 60263's second
proportion, from memory). Type is sized so that it can be read on a telephone held upright, where a picture is 390
points wide. Colours tell setups apart for the colour-blind too (after Okabe and Ito), and so do the line styles.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from textwrap import wrap
from typing import Any

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
WIDTH_IN = 5.6
LETTERS = 68  # of a caption's line in the smallest type, at that width
TITLE_PT, TEXT_PT, SMALL_PT = 11.0, 10.0, 9.0
TICKS_HZ = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)
TICK_WORDS = ("20", "", "100", "", "500", "1k", "2k", "5k", "10k", "20k")
SIZES: dict[str, tuple[float, float | None, float]] = {
    "1920x1080": (7.2, 4.05, 1920 / 7.2),
    "3840x2160": (7.2, 4.05, 3840 / 7.2),
    "square": (5.6, 5.6, 1080 / 5.6),
    "page": (6.3, None, 300.0),
}
"""By name: width and height in inches (None: as high as it needs) and pixels to the inch. The page is A4 in text."""


@dataclass(frozen=True)
class Look:
    """How a picture is given out: one of `SIZES` ("": as it was drawn), on dark paper, on none at all."""

    size: str = ""
    dark: bool = False
    transparent: bool = False


PLAIN = Look()


def paper(wide_in: float = WIDTH_IN, high_in: float = WIDTH_IN) -> Any:
    """An empty picture."""
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
    lines = [line for part in note.split("\n") for line in wrap(part, LETTERS)]
    axes.set_xlabel("\n".join([label, *lines]), fontsize=SMALL_PT, color=INK)


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
        words = ["\n".join(wrap(str(one.get_label()), LETTERS // columns)) for one in own]
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
        own = _height(figure)
        if figure.axes[0].get_box_aspect() is None and high:  # words cannot be squeezed: they get smaller
            larger = max(1.0, own / high, figure.get_figwidth() / wide)
            wide, high, dots = wide * larger, high * larger, dots / larger
        figure.set_size_inches(wide, high or wide * own / figure.get_figwidth())
        figure.set_dpi(dots)
        if high and high < wide and figure.legends:  # beside the axes there is room
            _legend_beside(figure)
    else:
        figure.set_size_inches(figure.get_figwidth(), _height(figure))
        figure.set_dpi(1200 / WIDTH_IN)
    for _ in range(3):  # the layout meets a fixed proportion step by step
        _lay_out(figure)
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


def _legend_beside(figure: Any) -> None:
    old = figure.legends[0]
    handles, words = list(old.legend_handles), [text.get_text() for text in old.get_texts()]
    old.remove()
    words = ["\n".join(wrap(word, 22)) for word in words]
    figure.legend(handles, words, loc="outside right upper", ncols=1, fontsize=SMALL_PT, frameon=False)


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

    dressed(figure, look)
    with mpl.rc_context({"svg.hashsalt": "earwitness", "svg.fonttype": "none"}):
        out = BytesIO()
        own = {"transparent": True} if not look.dark else {}
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None}, **own)
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
