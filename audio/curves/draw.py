"""Curves drawn: responses, families of angles, difference, polar map, decay. The one importer of matplotlib; no pyplot.

Frequency runs from 20 Hz to 20 kHz on a logarithmic axis; a decade is as long as 25 dB is high (IEC 60263's second
proportion, from memory). What is not valid is hatched and faint, never extended. Colours tell setups apart for
the colour-blind too (after Okabe and Ito), and so do the line styles.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np

from ..errors import FileError
from .curve import Curve, Numbers
from .decay import Decay

COLOURS = ("#0b6e6e", "#d55e00", "#3b4cc0", "#8a5fa8", "#7a7a00", "#26323a")
STYLES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), "-.", (0, (8, 2, 1, 2, 1, 2)), ":")
DB_PER_DECADE = 25.0
WIDTH_IN, MARGIN_IN = 8.0, 0.9
NARROWEST = 2 ** (1 / 24)  # a narrower band, as a grid leaves at its end, would not be seen as hatched
TICKS_HZ = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)


def responses(
    curves: Mapping[str, Curve],
    *,
    title: str = "",
    note: str = "",
    unit: str = "dB",
    span_db: float = 50.0,
    marked: Sequence[tuple[float, float, str]] = (),
    around: Mapping[str, tuple[Numbers, Numbers]] | None = None,
) -> Any:
    """One axis with all curves; the level axis spans `span_db` around what is valid.

    Parameters
    ----------
    marked
        Bands that are shaded: from and to, in Hz, and what they are.
    around
        By a curve's name: the lower and upper edge of a band around it, dB at its frequencies.
    """
    figure, axes = _axes(span_db, title, note)
    _level_limits(axes, list(curves.values()), span_db)
    for low, high, words in marked:
        axes.axvspan(low, high, facecolor="#e3e7e5", lw=0, zorder=0)
        axes.annotate(words, (low, 0.98), xycoords=("data", "axes fraction"), fontsize=7, va="top")
    for place, (name, curve) in enumerate(curves.items()):
        colour = COLOURS[place % len(COLOURS)]
        _line(axes, curve, colour, STYLES[place % len(STYLES)], name)
        if around and name in around:
            axes.fill_between(curve.hz, *around[name], where=curve.valid(), color=colour, alpha=0.2, lw=0)
    _hatch(axes, list(curves.values()))
    axes.set_ylabel(f"level, {unit}")
    axes.legend(loc="lower left", fontsize=8, frameon=False)
    return figure


def family(curves: Mapping[float, Curve], *, title: str = "", note: str = "", span_db: float = 50.0) -> Any:
    """Curves of one plane by angle: the axis darkest, further off ever lighter, each labelled at its right end."""
    from matplotlib import colormaps

    figure, axes = _axes(span_db, title, note)
    _level_limits(axes, list(curves.values()), span_db)
    shades = colormaps["viridis"]
    widest = max((abs(angle) for angle in curves), default=1) or 1
    for angle in sorted(curves, key=abs, reverse=True):
        share = abs(angle) / widest
        style = "-" if angle >= 0 else (0, (4, 2))
        _line(axes, curves[angle], shades(0.85 * share), style, f"{angle:+g}°" if angle else "on axis", 2.0 - share)
    _hatch(axes, list(curves.values()))
    axes.set_ylabel("level, dB")
    handles, labels = axes.get_legend_handles_labels()
    axes.legend(handles[::-1], labels[::-1], loc="lower left", fontsize=7, frameon=False, ncols=4)
    return figure


def polar_map(curves: Mapping[float, Curve], *, title: str = "", note: str = "") -> Any:
    """Level against frequency and angle, relative to the axis, in steps of 3 dB."""
    figure, axes = _axes(40.0, title, note)
    angles = sorted(curves)
    hz = curves[0].hz if 0 in curves else curves[angles[0]].hz
    level = np.array(
        [curves[angle].at(hz) - curves[0].at(hz) if 0 in curves else curves[angle].at(hz) for angle in angles]
    )
    drawn = axes.contourf(hz, angles, level, levels=np.arange(-31.5, 3, 3), cmap="viridis", extend="both")
    lines = axes.contour(hz, angles, level, levels=[-12, -6, -3], colors="#26323a", linewidths=0.7)
    axes.clabel(lines, fontsize=7)
    axes.set_ylim(min(angles), max(angles))
    axes.set_yticks(range(-180, 181, 30))
    axes.set_ylim(min(angles), max(angles))
    axes.set_ylabel("angle, degrees")
    figure.colorbar(drawn, ax=axes, ticks=range(-30, 1, 6), label="level relative to the axis, dB")
    return figure


def decay_map(decay: Decay, *, title: str = "", note: str = "", span_db: float = 30.0) -> Any:
    """A decay as a map: time or periods downwards; what cannot be resolved is hatched."""
    figure, axes = _axes(40.0, title, note)
    scale = 1000.0 if decay.unit == "s" else 1.0
    axes.contourf(
        decay.hz, decay.steps * scale, np.maximum(decay.level_db, -span_db),
        levels=np.arange(-span_db, 1, 3), cmap="viridis",
    )  # fmt: skip
    axes.fill_betweenx(
        decay.steps * scale, 20, decay.valid_from_hz, hatch="////", facecolor="white", edgecolor="#9aa5ab", alpha=0.9
    )
    axes.invert_yaxis()
    axes.set_ylabel("time, ms" if decay.unit == "s" else "periods")
    return figure


def decay_slices(decay: Decay, *, title: str = "", note: str = "", every: int = 5, span_db: float = 40.0) -> Any:
    """A decay as slices, one line each, later ones lighter."""
    from matplotlib import colormaps

    figure, axes = _axes(span_db, title, note)
    shades = colormaps["viridis"]
    for place in range(0, len(decay.steps), every):
        seen = decay.hz >= decay.valid_from_hz[place]
        label = f"{1000 * decay.steps[place]:.2g} ms" if decay.unit == "s" else f"{decay.steps[place]:.3g} periods"
        shade = shades(0.85 * place / max(len(decay.steps) - 1, 1))
        axes.plot(decay.hz[seen], decay.level_db[place][seen], color=shade, lw=1.2, label=label)
    axes.set_ylim(-span_db, 3)
    axes.set_ylabel("level, dB")
    axes.legend(loc="lower left", fontsize=7, frameon=False, ncols=4)
    return figure


def impedance(hz: Numbers, ohm: Numbers, phase_deg: Numbers | None, *, title: str = "", note: str = "") -> Any:
    """Modulus on a linear axis from 0, phase dashed on its own axis at the right."""
    figure, axes = _axes(50.0, title, note)
    axes.plot(hz, ohm, color=COLOURS[0], lw=1.6, label="modulus")
    axes.set_ylim(0, max(10.0, float(ohm.max()) * 1.1))
    axes.set_ylabel("impedance, ohm")
    if phase_deg is not None:
        right = axes.twinx()
        right.plot(hz, phase_deg, color=COLOURS[1], lw=1.2, ls=STYLES[1], label="phase")
        right.set_ylim(-90, 90)
        right.set_yticks(range(-90, 91, 30))
        right.set_ylabel("phase, degrees")
        lines = [*axes.get_lines(), *right.get_lines()]
        axes.legend(lines, [str(line.get_label()) for line in lines], loc="upper center", fontsize=8, frameon=False)
    return figure


def phases(
    hz: Numbers, curves: Mapping[str, Numbers], valid_hz: tuple[float, float], *, title: str = "", note: str = ""
) -> Any:
    """Phases in degrees, wrapped to ±180; only where they are valid."""
    figure, axes = _axes(25.0, title, note)
    seen = (hz >= valid_hz[0]) & (hz <= valid_hz[1])
    for place, (name, degrees) in enumerate(curves.items()):
        wrapped = (degrees + 180) % 360 - 180
        jumps = np.concatenate([[False], np.abs(np.diff(wrapped)) > 180])
        shown = np.where(seen & ~jumps, wrapped, np.nan)
        axes.plot(hz, shown, color=COLOURS[place], ls=STYLES[place], lw=1.4, label=name)
    axes.set_ylim(-180, 180)
    axes.set_yticks(range(-180, 181, 60))
    axes.set_ylabel("phase, degrees")
    axes.legend(loc="lower left", fontsize=8, frameon=False)
    return figure


def step(response: Numbers, rate_hz: int, onset: int, *, title: str = "", milliseconds: float = 4.0) -> Any:
    """A step response against time from its onset."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, 4.0), layout="constrained")
    axes = figure.add_subplot()
    time = 1000 * (np.arange(len(response)) - onset) / rate_hz
    seen = (time > -0.5) & (time < milliseconds)
    axes.plot(time[seen], response[seen], color=COLOURS[0], lw=1.6)
    axes.axhline(0, color="#9aa5ab", lw=0.6)
    axes.set_xlabel("time after the onset, ms")
    axes.set_ylabel("relative amplitude")
    axes.set_title(title, fontsize=11, loc="left")
    return figure


def stacked(heights: Sequence[float], *, title: str = "", wide_in: float = 10.0) -> tuple[Any, Sequence[Any]]:
    """A figure of panels one above the other, of these heights in inches, and the panels."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(wide_in, sum(heights) + 0.5), layout="constrained")
    panels = figure.subplots(len(heights), 1, squeeze=False, gridspec_kw={"height_ratios": heights})[:, 0]
    figure.suptitle(title, fontsize=11, x=0.01, ha="left")
    return figure, list(panels)


def statements(headings: Sequence[str], rows: Sequence[Sequence[str]], *, title: str = "") -> Any:
    """Words in columns, broken into lines; the last column in bold."""
    from textwrap import wrap

    from matplotlib.figure import Figure

    letters = (30, 20, 62, 22)  # of a line, by column
    cells = [
        ["\n".join(wrap(text, wide)) for text, wide in zip(row, letters, strict=True)] for row in (headings, *rows)
    ]
    heights = [max(text.count("\n") + 1 for text in row) + 0.8 for row in cells]
    figure = Figure(figsize=(1.4 * WIDTH_IN, 0.17 * sum(heights) + 0.5), layout="constrained")
    axes = figure.add_subplot()
    axes.set_axis_off()
    axes.set_xlim(0, sum(letters))
    axes.set_ylim(sum(heights), 0)
    axes.set_title(title, fontsize=11, loc="left")
    for number, row in enumerate(cells):
        top = sum(heights[:number])
        axes.axhline(top, color="#d9dedb", lw=0.6)
        for place, text in enumerate(row):
            weight = "bold" if number == 0 or place == len(row) - 1 else "normal"
            axes.text(sum(letters[:place]), top + 0.4, text, fontsize=9, va="top", weight=weight)
    return figure


def is_hatched(figure: Any) -> bool:
    """Whether anything in the figure is hatched."""
    return any(drawn.get_hatch() for axes in figure.axes for drawn in (*axes.patches, *axes.collections))


def svg(figure: Any) -> str:
    """The figure as SVG text, the same on every run."""
    import matplotlib as mpl

    with mpl.rc_context({"svg.hashsalt": "earwitness", "svg.fonttype": "none"}):
        _lay_out(figure)
        out = BytesIO()
        figure.savefig(out, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    text = out.getvalue().decode()
    return text[text.index("<svg") :]


def _lay_out(figure: Any) -> None:
    """Lay the figure out now: one that lays itself out while it is written is drawn twice for it."""
    engine = figure.get_layout_engine()
    if engine is not None:
        engine.execute(figure)
        figure.set_layout_engine("none")


def write(figure: Any, path: Path) -> None:
    """Write the figure as SVG or PNG, by the file's ending.

    Raises
    ------
    FileError
        If the ending is another, or the file cannot be written.
    """
    check_ending(path)
    try:
        if path.suffix.lower() == ".svg":
            path.write_text(svg(figure), encoding="utf-8")
        else:
            figure.savefig(path, format="png", dpi=150)
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


def _axes(span_db: float, title: str, note: str) -> tuple[Any, Any]:
    from matplotlib.figure import Figure

    wide = WIDTH_IN - 2 * MARGIN_IN
    high = wide / 3 * span_db / DB_PER_DECADE  # three decades
    figure = Figure(figsize=(WIDTH_IN, min(high, 7.5) + 2 * MARGIN_IN), layout="constrained")
    axes = figure.add_subplot()
    axes.set_xscale("log")
    axes.set_xlim(20, 20_000)
    axes.set_xticks(TICKS_HZ, [f"{hz // 1000}k" if hz >= 1000 else str(hz) for hz in TICKS_HZ])
    axes.minorticks_off()
    axes.grid(True, which="major", color="#d9dedb", lw=0.6)
    axes.set_xlabel("frequency, Hz" + (f"\n{note}" if note else ""), fontsize=9)
    if title:
        axes.set_title(title, fontsize=11, loc="left")
    return figure, axes


def _level_limits(axes: Any, curves: Sequence[Curve], span_db: float) -> None:
    tops = [float(curve.level_db[curve.valid()].max()) for curve in curves if curve.valid().any()]
    top = 5 * np.ceil((max(tops, default=0.0) + 3) / 5)
    axes.set_ylim(top - span_db, top)
    axes.set_box_aspect((span_db / DB_PER_DECADE) / 3)


def _line(axes: Any, curve: Curve, colour: Any, style: Any, name: str, width: float = 1.6) -> None:
    seen = curve.valid()
    axes.plot(curve.hz, np.where(seen, curve.level_db, np.nan), color=colour, ls=style, lw=width, label=name)
    if not seen.all():
        axes.plot(curve.hz, np.where(seen, np.nan, curve.level_db), color=colour, lw=0.5, alpha=0.35)


def _hatch(axes: Any, curves: Sequence[Curve]) -> None:
    """Hatch what is valid for none of the curves' whole."""
    low = max((curve.band[0] for curve in curves), default=20.0)
    high = min((curve.band[1] for curve in curves), default=20_000.0)
    for start, end in ((20.0, low), (high, 20_000.0)):
        if end > start * NARROWEST:
            axes.axvspan(start, min(end, 20_000), facecolor="none", edgecolor="#c3cbc8", hatch="////", lw=0, zorder=0)
