"""A picture's paper, the colours it is given out in, and its file. The one importer of matplotlib; no pyplot.

What stands on it is in `graph_paper` and `draw`, how it fills its size in `frame`, its colours in `palette`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from io import StringIO
from pathlib import Path
from typing import Any

import numpy as np

from ..errors import FileError
from . import frame, layout
from .frame import WIDTH_IN
from .palette import GRID, INK, ON_DARK, PAPER, SEQUENCE, SHADES

HALO_PT = 2.6  # of paper around words and lines on no paper


@dataclass(frozen=True)
class Look:
    """How a picture is given out: one of `frame.SIZES` ("": as it was drawn), on dark paper, on none at all."""

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

    described = "_update_set_signature_and_docstring"
    own, artist.kwdoc = artist.kwdoc, lambda artist: ""
    signed = vars(artist.Artist).get(described)
    if signed is not None:
        setattr(artist.Artist, described, classmethod(lambda cls: None))
    try:
        import matplotlib.backends.backend_svg
        import matplotlib.figure  # noqa: F401

        _measuring_canvas()
    finally:
        artist.kwdoc = own
        if signed is not None:
            setattr(artist.Artist, described, signed)


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
    frame.sized(figure, look.size)
    figure.set_layout_engine("none")  # else it is laid out once more while it is written
    if look.dark:
        darken(figure)
    if look.transparent:
        figure.set_facecolor("none")
        outline(figure, ON_DARK[PAPER] if look.dark else PAPER)
    return figure


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
        with layout.ticked_once(figure.axes):
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
