"""Curves drawn as lines: responses, differences, families of angles, impedance, delay, phase. On `graph_paper`.

What is not valid is hatched and faint, never extended.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import frame, gaps, graph_paper, lanes, palette, picture
from .curve import Curve, Numbers
from .hatching import HEARD_HZ, hatched, hatched_beyond
from .lanes import Marked
from .palette import BAND, COLOURS, FAINT, INK, SMALL_PT, STYLES, TEXT_PT

MOST_NAMED, NAMED_DEG = 12, 30  # of a family's angles; of more only these are named
LINE_PT = 1.6


def responses(
    curves: Mapping[str, Curve],
    *,
    title: str = "",
    note: str = "",
    unit: str = "dB",
    span_db: float = 50.0,
    marked: Sequence[tuple[float, float, str]] = (),
    around: Mapping[str, tuple[Numbers, Numbers]] | None = None,
    below: Mapping[str, Curve] | None = None,
    widths: Mapping[str, float] | None = None,
) -> Any:
    """One axis with all curves; the level axis spans what is valid of them, at most `span_db`.

    Parameters
    ----------
    marked
        Bands that are shaded: from and to, in Hz, and what they are.
    around
        By a curve's name: the lower and upper edge of a band around it, dB at its frequencies.
    below
        Curves on an axis of their own at the right, in dB (directivity indices).
    widths
        By a curve's name, in points, where one is to be seen under another: such lines are whole.
    """
    low, high = _limits(list(curves.values()), span_db)
    if below:
        low -= 10.0  # the indices have the lowest part to themselves
    figure, axes = graph_paper.level_axes(low, high, title, note)
    for start, end, words in marked:  # named below: inside there is no room that curves leave free for certain
        axes.axvspan(start, end, facecolor=BAND, lw=0, zorder=0, label=words)
    for place, (name, curve) in enumerate(curves.items()):
        colour, style = palette.line_look(place)
        if widths and name in widths:
            _line(axes, curve, colour, "-", name, widths[name])
        else:
            _line(axes, curve, colour, style, name)
        if around and name in around:
            axes.fill_between(curve.hz, *around[name], where=curve.valid(), color=colour, alpha=0.2, lw=0)
    hatched(axes, list(curves.values()))
    axes.set_ylabel(f"level, {unit}", fontsize=TEXT_PT, color=INK)
    if below:
        _indices(axes, below, high - low, len(curves))
    graph_paper.legend(figure)
    return figure


def difference(
    curve: Curve,
    *,
    title: str = "",
    note: str = "",
    uncertainty_db: float | None = None,
    words: str = "",
    marked: Sequence[Marked] = (),
) -> Any:
    """A difference around a bold zero, with a band of ± its standard uncertainty where that is known.

    Parameters
    ----------
    marked
        Words heard, each with its band: in lanes above the curve.
    """
    low, high = _limits([curve], 50.0)
    low, high = min(low, -10.0), max(high, 10.0)
    above = lanes.in_lanes(marked, HEARD_HZ)
    taller = 1 + lanes.height_db(above) / (high - low)  # a decibel stays as high as it is
    scales = (frame.DB_PER_DECADE,) if above else graph_paper.SCALES_DB  # lanes are as high as their words need there
    figure, axes = graph_paper.level_axes(
        low, low + (high - low) * taller, title, note, scales=scales, tall=bool(above)
    )
    axes.set_yticks(np.arange(5 * np.ceil(low / 5), high + 1, 5))
    if above:
        lanes.draw(axes, above, high)
    axes.axhline(0, color=INK, lw=2.2, zorder=1.9, label="_zero")
    if uncertainty_db is not None:
        edges = curve.level_db - uncertainty_db, curve.level_db + uncertainty_db
        axes.fill_between(curve.hz, *edges, where=curve.valid(), color=COLOURS[0], alpha=0.25, lw=0, label="_repeats")
    _line(axes, curve, COLOURS[0], "-", words or "difference")
    hatched(axes, [curve])
    axes.set_ylabel("difference, dB", fontsize=TEXT_PT, color=INK)
    graph_paper.legend(figure)
    return figure


def distortion(
    curves: Mapping[str, Curve],
    clear: Mapping[str, NDArray[np.bool_]],
    floors: Mapping[str, Curve],
    *,
    title: str = "",
    note: str = "",
) -> Any:
    """Harmonics in dB below the fundamental and in per cent at the right, each with its own floor, faint.

    `clear` says which points of each stand above that: a line is not joined over those that do not. Of a harmonic that
    nowhere does, the floor alone is drawn, and named. The axis is fitted to what is drawn;
    hatched is where none is valid.
    """
    stands = {name: Curve(one.hz[clear[name]], one.level_db[clear[name]], None, one.valid_hz)
              for name, one in curves.items() if clear[name].sum() > 1}  # fmt: skip
    low, high = _limits([*stands.values(), *floors.values()], 75.0)
    figure, axes = graph_paper.level_axes(low, high, title, note)
    for place, (name, curve) in enumerate(curves.items()):
        colour, style = COLOURS[place % len(COLOURS)], STYLES[place % len(STYLES)]
        if name in stands:
            shown = np.where(clear[name], curve.level_db, np.nan)
            axes.plot(curve.hz, shown, color=colour, ls=style, lw=1.6, label=name)
        if name in floors:
            floor = floors[name]
            words = f"_floor of {name}" if name in stands else f"{name}: its floor alone"
            axes.plot(floor.hz, floor.level_db, color=colour, lw=0.8, alpha=0.5, label=words)
    every = [*curves.values()]  # hatched is what is valid of none
    if every:
        hatched_beyond(axes, (min(one.band[0] for one in every), max(one.band[1] for one in every)))
    axes.set_ylabel("harmonic, dB", fontsize=TEXT_PT, color=INK)
    right = axes.secondary_yaxis("right")
    percents = [
        percent for percent in (100, 30, 10, 3, 1, 0.3, 0.1, 0.03, 0.01, 0.003, 0.001) if low <= _db(percent) <= high
    ]
    right.set_yticks([_db(percent) for percent in percents], [f"{percent:g} %" for percent in percents])
    right.tick_params(labelsize=SMALL_PT)
    graph_paper.legend(figure, axes.get_lines())
    return figure


def family(
    curves: Mapping[float, Curve], *, title: str = "", note: str = "", unit: str = "dB", span_db: float = 50.0
) -> Any:
    """Curves of one plane by angle: the axis darkest, further off ever lighter; of many, every third is named."""
    low, high = _limits(list(curves.values()), span_db)
    figure, axes = graph_paper.level_axes(low, high, title, note)
    widest = max((abs(angle) for angle in curves), default=1) or 1
    for angle in sorted(curves, key=abs, reverse=True):
        share = abs(angle) / widest
        style = "-" if angle >= 0 else (0, (4, 2))
        name = f"{angle:+g}°" if angle else "on axis"
        if len(curves) > MOST_NAMED and angle % NAMED_DEG:
            name = f"_{name}"
        _line(axes, curves[angle], picture.shade(share), style, name, 2.0 - share)
    hatched(axes, list(curves.values()))
    axes.set_ylabel(f"level, {unit}", fontsize=TEXT_PT, color=INK)
    graph_paper.legend(figure, list(axes.get_lines())[::-1], columns=3)
    return figure


def impedance(
    hz: Numbers,
    ohm: Numbers,
    phase_deg: Numbers | None,
    *,
    title: str = "",
    note: str = "",
    rating_ohm: int | None = None,
) -> Any:
    """Modulus on a linear axis that is fitted to it, phase dashed on its own axis at the right, and a rating's 80 %."""
    figure, axes = graph_paper.frequency_axes(0.5, title, note)
    hz, ohm, phase_deg = _broken(hz, ohm, phase_deg)
    seen = (hz >= HEARD_HZ[0]) & (hz <= HEARD_HZ[1])
    axes.plot(hz, ohm, color=COLOURS[0], lw=1.6, label="modulus")
    known = hz[np.isfinite(ohm)]
    hatched(axes, [Curve(known, np.zeros(len(known)), gaps_hz=gaps.gaps_of(known))])
    highest = float(np.nanmax(ohm[seen] if seen.any() else ohm))
    step = next(step for step in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000) if highest / step <= 9 or step == 1000)
    axes.set_ylim(0, step * np.ceil(1.05 * highest / step))
    axes.set_ylabel("impedance, ohm", fontsize=TEXT_PT, color=INK)
    if rating_ohm is not None:
        axes.axhline(
            0.8 * rating_ohm, color=COLOURS[2], lw=1.2, ls=STYLES[2],
            label=f"{0.8 * rating_ohm:g} ohm, 80 % of a rating of {rating_ohm} ohm",
        )  # fmt: skip
    if phase_deg is not None:
        right = axes.twinx()
        frame.shape(right, 0.5)
        right.plot(hz, phase_deg, color=COLOURS[1], lw=1.2, ls=STYLES[1], label="phase")
        inside = np.nanmax(np.abs(phase_deg[seen])) if seen.any() else 90.0
        end = float(np.clip(30 * np.ceil(inside / 30), 30, 180))
        right.set_ylim(-end, end)
        right.set_yticks(np.linspace(-end, end, 5 if end == 60 else 7))
        right.tick_params(labelsize=TEXT_PT)
        right.set_ylabel("phase, degrees", fontsize=TEXT_PT, color=INK)
    graph_paper.legend(figure)
    return figure


def delay(hz: Numbers, ms: Numbers, *, title: str = "", note: str = "", name: str = "group delay") -> Any:
    """A delay in milliseconds on an axis fitted to the middle 98 % of it."""
    figure, axes = graph_paper.frequency_axes(0.45, title, note)
    axes.plot(hz, ms, color=COLOURS[0], lw=1.6, label=name)
    low, high = np.nanpercentile(ms, [1, 99])
    room = max(0.1 * (high - low), 0.2)
    axes.set_ylim(float(low - room), float(high + room))
    axes.axhline(0, color=FAINT, lw=0.8, label="_zero")
    known = hz[np.isfinite(ms)]
    hatched_beyond(axes, (float(known[0]), float(known[-1])))
    axes.set_ylabel("group delay, ms", fontsize=TEXT_PT, color=INK)
    graph_paper.legend(figure)
    return figure


def phases(
    hz: Numbers, curves: Mapping[str, Numbers], valid_hz: tuple[float, float], *, title: str = "", note: str = ""
) -> Any:
    """Phases in degrees, wrapped to ±180; only where they are valid."""
    figure, axes = graph_paper.frequency_axes(0.5, title, note)
    seen = (hz >= valid_hz[0]) & (hz <= valid_hz[1])
    for place, (name, degrees) in enumerate(curves.items()):
        wrapped = (degrees + 180) % 360 - 180
        jumps = np.concatenate([[False], np.abs(np.diff(wrapped)) > 180])
        shown = np.where(seen & ~jumps, wrapped, np.nan)
        axes.plot(hz, shown, color=COLOURS[place], ls=STYLES[place], lw=1.4, label=name)
    hatched_beyond(axes, (max(valid_hz[0], float(hz[0])), min(valid_hz[1], float(hz[-1]))))
    axes.set_ylim(-180, 180)
    axes.set_yticks(range(-180, 181, 60))
    axes.set_ylabel("phase, degrees", fontsize=TEXT_PT, color=INK)
    graph_paper.legend(figure, columns=3)
    return figure


def step(
    response: Numbers, rate_hz: int, onset: int, *, title: str = "", note: str = "", milliseconds: float = 4.0
) -> Any:
    """A step response against time from its onset."""
    figure = picture.paper()
    axes = figure.add_subplot()
    axes.set_facecolor("none")
    frame.shape(axes, 0.5)
    time = 1000 * (np.arange(len(response)) - onset) / rate_hz
    seen = (time > -0.5) & (time < milliseconds)
    axes.plot(time[seen], response[seen], color=COLOURS[0], lw=1.6)
    axes.axhline(0, color=FAINT, lw=0.8)
    axes.tick_params(labelsize=TEXT_PT)
    graph_paper.under(axes, "time after the onset, ms", note)
    axes.set_ylabel("relative amplitude", fontsize=TEXT_PT, color=INK)
    graph_paper.entitled(axes, title)
    return figure


def stacked(heights: Sequence[float], *, title: str = "", wide_in: float = 10.0) -> tuple[Any, Sequence[Any]]:
    """A figure of panels one above the other, of these heights in inches, and the panels."""
    figure = picture.paper(wide_in, sum(heights) + 0.5)
    panels = figure.subplots(len(heights), 1, squeeze=False, gridspec_kw={"height_ratios": heights})[:, 0]
    figure.suptitle(title, fontsize=11, x=0.01, ha="left")
    return figure, list(panels)


def _limits(curves: Sequence[Curve], most_db: float) -> tuple[float, float]:
    """The ends of a level axis: what is valid and heard of the curves."""
    levels = [
        curve.level_db[seen]
        for curve in curves
        for seen in [
            curve.valid() & (curve.hz >= HEARD_HZ[0]) & (curve.hz <= HEARD_HZ[1]) & np.isfinite(curve.level_db)
        ]
        if seen.any()
    ]
    if not levels:
        return -25.0, 0.0
    return graph_paper.span(min(float(one.min()) for one in levels), max(float(one.max()) for one in levels), most_db)


def _indices(axes: Any, below: Mapping[str, Curve], span_db: float, before: int) -> None:
    """Indices at the foot of the picture, on an axis at the right with as many dB to the height."""
    right = axes.twinx()
    frame.shape(right, graph_paper.proportion(span_db))
    lowest = min(0.0, *(5 * np.floor(float(curve.level_db[curve.valid()].min()) / 5) for curve in below.values()))
    right.set_ylim(lowest, lowest + span_db)
    right.set_yticks(np.arange(lowest, lowest + 16, 5))
    right.tick_params(labelsize=TEXT_PT)
    right.set_ylabel("index, dB", fontsize=TEXT_PT, color=INK, loc="bottom")
    for place, (name, curve) in enumerate(below.items(), before):
        _line(right, curve, *palette.line_look(place), name, 1.2)


def _db(percent: float) -> float:
    return float(20 * np.log10(percent / 100))


def _broken(hz: Numbers, ohm: Numbers, phase_deg: Numbers | None) -> tuple[Numbers, Numbers, Numbers | None]:
    """The same with not-a-number within each gap, over which no line is drawn."""
    found = gaps.gaps_of(hz)
    middles = np.sqrt([low * high for low, high in found])
    at = np.searchsorted(hz, middles)
    phase = None if phase_deg is None else np.insert(phase_deg, at, np.nan)
    return np.insert(hz, at, middles), np.insert(ohm, at, np.nan), phase


def _line(axes: Any, curve: Curve, colour: Any, style: Any, name: str, width: float = LINE_PT) -> None:
    seen = curve.valid()
    if curve.is_few:
        axes.plot(curve.hz[seen], curve.level_db[seen], color=colour, ls="", marker="o", ms=3 * width, label=name)
        return
    hz, level = curve.hz, np.where(seen, curve.level_db, np.nan)
    if curve.gaps_hz:  # unsmoothed there is no point within them that would break the line
        hz, level, _ = _broken(hz, level, None)
    axes.plot(hz, level, color=colour, ls=style, lw=width, label=name)
    if not seen.all():
        axes.plot(
            curve.hz, np.where(seen, np.nan, curve.level_db), color=colour, lw=0.5, alpha=0.35, label="_not valid"
        )
