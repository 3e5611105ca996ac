"""Level against frequency and angle or time: maps, and a decay in slices. On `graph_paper`.

What is not valid is hatched, never extended.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from . import graph_paper, picture
from .curve import Curve, Numbers
from .decay import Decay
from .hatching import HEARD_HZ, NARROWEST, hatched, hatched_beyond
from .palette import HATCH, INK, SEQUENCE, SMALL_PT, TEXT_PT

LABEL_SHARE = np.array([0.06, 0.09])  # half a label's width and height, of the axes
WIDEST_STEP_DEG = 30.0  # of a map: between angles further apart (and than twice the usual step) nothing is filled in


def polar_map(curves: Mapping[float, Curve], *, title: str = "", note: str = "") -> Any:
    """Level against frequency and angle, relative to the axis, in steps of 3 dB; hatched where it is not valid.

    Nor is it between angles that lie so far apart that nothing is known between them (`WIDEST_STEP_DEG`).
    """
    figure, axes = graph_paper.frequency_axes(0.5, title, note)
    angles = sorted(curves)
    hz = curves[0].hz if 0 in curves else curves[angles[0]].hz
    level = np.array(
        [curves[angle].at(hz) - curves[0].at(hz) if 0 in curves else curves[angle].at(hz) for angle in angles]
    )
    drawn, lines = None, []
    for part in _without_gaps(angles):
        if len(part) > 1:  # of one angle alone there is no area
            rows, own = level[part], [angles[one] for one in part]
            drawn = axes.contourf(
                hz, own, rows, levels=np.arange(-31.5, 3, 3), cmap=picture.map_colours(), extend="both"
            )
            lines.append(
                axes.contour(
                    hz, own, rows, levels=[-12, -6, -3], colors=[SEQUENCE[-1], SEQUENCE[0], SEQUENCE[0]], linewidths=0.8
                )
            )
        for start, end in _unmeasured(angles, part):
            axes.axhspan(start, end, facecolor="none", edgecolor=HATCH, hatch="////", lw=0, zorder=0)
    widest = max(abs(angle) for angle in angles)
    axes.set_yticks(range(-180, 181, 60 if widest > 90 else 30 if widest > 40 else 10))
    axes.set_ylim(min(angles), max(angles))
    axes.set_ylabel("angle, degrees", fontsize=TEXT_PT, color=INK)
    _label_contours(axes, lines)
    hatched(axes, [Curve(hz, np.zeros(len(hz)), None, (float(hz[0]), float(hz[-1]))), *curves.values()])
    _scale(figure, axes, drawn, range(-30, 1, 6), "dB re the axis")
    return figure


def decay_map(decay: Decay, *, title: str = "", note: str = "", span_db: float = 30.0) -> Any:
    """A decay as a map: time or periods downwards; what cannot be resolved is hatched."""
    figure, axes = graph_paper.frequency_axes(0.55, title, note)
    scale = 1000.0 if decay.unit == "s" else 1.0
    times, ends = decay.steps * scale, decay.valid_from_hz
    drawn = axes.contourf(
        decay.hz, times, np.maximum(decay.level_db, -span_db),
        levels=np.arange(-span_db, 1, 3), cmap=picture.map_colours(),
    )  # fmt: skip
    axes.fill_betweenx(times, HEARD_HZ[0], ends, hatch="////", facecolor="none", edgecolor=HATCH, lw=0)
    looked_to = min(float(decay.hz[-1]) * NARROWEST, HEARD_HZ[1])  # a grid may end a step below its band
    tops = np.full(len(times), looked_to) if decay.valid_to_hz is None else np.minimum(decay.valid_to_hz, looked_to)
    if (tops < HEARD_HZ[1] / NARROWEST).any():
        axes.fill_betweenx(times, tops, HEARD_HZ[1], hatch="////", facecolor="none", edgecolor=HATCH, lw=0)
    resolved = axes.fill_betweenx(times, ends, tops, facecolor="none", lw=0)
    drawn.set_clip_path(resolved.get_paths()[0], axes.transData)
    axes.invert_yaxis()
    axes.set_ylabel("time, ms" if decay.unit == "s" else "periods", fontsize=TEXT_PT, color=INK)
    _scale(figure, axes, drawn, np.arange(-span_db, 1, 6), "level, dB")
    return figure


def decay_slices(decay: Decay, *, title: str = "", note: str = "", every: int = 5, span_db: float = 40.0) -> Any:
    """A decay as slices, one line each, later ones lighter."""
    figure, axes = graph_paper.level_axes(-span_db, 3.0, title, note)
    for place in range(0, len(decay.steps), every):
        seen = decay.hz >= decay.valid_from_hz[place]
        if decay.valid_to_hz is not None:
            seen &= decay.hz <= decay.valid_to_hz[place]
        label = (
            f"{float(f'{1000 * decay.steps[place]:.3g}'):g} ms"
            if decay.unit == "s"
            else f"{decay.steps[place]:.3g} periods"
        )
        colour = picture.shade(place / max(len(decay.steps) - 1, 1))
        axes.plot(decay.hz[seen], decay.level_db[place][seen], color=colour, lw=1.2, label=label)
    hatched_beyond(axes, (max(float(decay.hz[0]), float(decay.valid_from_hz[0])), float(decay.hz[-1])))
    axes.set_ylabel("level, dB", fontsize=TEXT_PT, color=INK)
    graph_paper.legend(figure, columns=3)
    return figure


def _without_gaps(angles: Sequence[float]) -> list[list[int]]:
    """The places of ascending angles, parted where two are further from each other than the map may fill in."""
    steps = np.diff(angles)
    most = max(WIDEST_STEP_DEG, 2 * float(np.median(steps)))
    return [[int(one) for one in part] for part in np.split(np.arange(len(angles)), np.flatnonzero(steps > most) + 1)]


def _unmeasured(angles: Sequence[float], part: Sequence[int]) -> list[tuple[float, float]]:
    """The gap above a part of the angles, if there is one."""
    return [(angles[part[-1]], angles[part[-1] + 1])] if part[-1] + 1 < len(angles) else []


def _label_contours(axes: Any, lines: Sequence[Any]) -> None:
    """Each contour's level where it lies deepest within the axes, away from other labels; none hugs an edge.

    In the map's own colours, which are the same on dark paper.
    """
    taken: list[Numbers] = []
    every = [one for part in lines for one in zip(part.levels, part.get_paths(), strict=True)]
    for level, path in every:
        if not len(path.vertices):
            continue
        inside = axes.transAxes.inverted().transform(axes.transData.transform(path.vertices))
        room = np.minimum(inside, 1 - inside) / LABEL_SHARE
        for other in taken:
            room = np.column_stack([room, np.max(np.abs(inside - other) / LABEL_SHARE, axis=1) / 2])
        best = int(np.argmax(room.min(axis=1)))
        if room[best].min() < 1:
            continue
        taken.append(inside[best])
        axes.text(
            *path.vertices[best], f"{level:.0f}", fontsize=SMALL_PT, color=SEQUENCE[0], ha="center", va="center",
            bbox={"facecolor": SEQUENCE[-1], "edgecolor": "none", "alpha": 0.8, "pad": 1.0},
        )  # fmt: skip


def _scale(figure: Any, axes: Any, drawn: Any, ticks: Any, label: str) -> None:
    """The colour scale of a map, at its right."""
    made = figure.colorbar(drawn, cax=axes.inset_axes((1.03, 0.0, 0.04, 1.0)), ticks=ticks)
    made.ax.tick_params(labelsize=SMALL_PT)
    made.set_label(label, fontsize=SMALL_PT, color=INK)
