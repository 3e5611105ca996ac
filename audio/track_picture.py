"""A track looked through, drawn: how much the setups differ along it, what is proposed and marked, the music's level.

It draws what a survey holds, so that its numbers are those that are printed. Kinds of passages are told apart by words,
shade and the stroke of their edges, so that the picture says the same in grey.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .curves import draw
from .curves.palette import COLOURS, STYLES
from .passages import Proposal, Survey
from .track_time import marked, told

INK, FAINT = COLOURS[-1], "#9aa5ab"
LOWEST_DB = -50.0
LAST_S = 0.5  # what the last moment stands for
SAME_S = 1e-6
LEAST_HATCHED = 0.01  # of the axis: narrower hatching is a few dots that nobody sees
SONE = (
    "Sone: how loud something is to the ear (twice the sones: twice as loud); here the loudness in each of the ear's "
    "bands is\ncompared, and the differences of all bands are added."
)
HATCHED = "Hatched: the recordings are out of step there, or one is silent; nothing is proposed."


@dataclass(frozen=True)
class LookedThrough:
    """A track to be drawn: its survey, which began some seconds into the track, at a rate."""

    name: str
    survey: Survey
    start_s: float
    rate_hz: int


def tracks(looked_through: Sequence[LookedThrough], *, title: str = "") -> Any:
    """Along each track how much the setups differ, with what is proposed and marked, above the music's own level."""
    most = max(len(one.survey.proposals) for one in looked_through)
    figure, panels = draw.stacked([2.6, 1.1 + 0.2 * most] * len(looked_through), title=title)
    for one, upper, lower in zip(looked_through, panels[::2], panels[1::2], strict=True):
        _differences(upper, one)
        _level(lower, one)
    return figure


def _differences(axes: Any, one: LookedThrough) -> None:
    survey, start_s = one.survey, one.start_s
    times_s = start_s + survey.moments_s
    axes.plot(times_s, survey.differences_sone, color=COLOURS[0], lw=1.6)
    top = max(
        0.1, *(part.difference_sone for part in survey.proposals), float(np.nanmax([0, *survey.differences_sone]))
    )
    placed_s = float("-inf")
    for number, part in sorted(enumerate(survey.proposals, 1), key=lambda each: each[1].start_frame):
        begin_s, end_s = _ends_s(one, part)
        axes.axvspan(
            begin_s, end_s, facecolor="#dfe5e2" if part.telling else "#ffffff", edgecolor=INK, lw=0.8,
            ls="-" if part.telling else STYLES[1], zorder=0,
        )  # fmt: skip
        axes.plot([begin_s, end_s], [part.difference_sone] * 2, color=INK, lw=3.0, solid_capstyle="butt")
        middle_s = (begin_s + end_s) / 2
        beside = middle_s - placed_s < 0.02 * (times_s[-1] - times_s[0])
        axes.annotate(str(number), (middle_s, (1.22 if beside else 1.34) * top), fontsize=9, ha="center", weight="bold")
        placed_s = float("-inf") if beside else middle_s
        for mark_s in part.marks_s:
            axes.plot([start_s + mark_s] * 2, [0, 1.1 * top], color=INK, lw=1.0, ls=STYLES[2])
            axes.plot([start_s + mark_s], [1.1 * top], color=INK, marker="v", ms=7)
    proposed_s = [
        (begin_s - start_s, end_s - start_s) for begin_s, end_s in (_ends_s(one, each) for each in survey.proposals)
    ]
    for begin_s, end_s in _seen(survey.skipped_s, float(survey.moments_s[-1]) + LAST_S, proposed_s):
        axes.axvspan(start_s + begin_s, start_s + end_s, facecolor="none", edgecolor=FAINT, hatch="////", lw=0)
    axes.set_ylim(0, 1.5 * top)
    axes.set_ylabel("difference, sone\n(10 s about each moment)", fontsize=9)
    axes.set_title(one.name, fontsize=10, loc="left")
    _along(axes, times_s, told_below=False)


def _seen(
    stretches_s: Sequence[tuple[float, float]], length_s: float, proposed_s: Sequence[tuple[float, float]]
) -> list[tuple[float, float]]:
    """The stretches, each inside the picture and, where no proposal is beside it, wide enough to be seen."""
    wide_s = LEAST_HATCHED * length_s
    found = []
    for begin_s, end_s in stretches_s:
        lowest_s = max((end for _, end in proposed_s if end <= begin_s + SAME_S), default=0.0)
        highest_s = min((begin for begin, _ in proposed_s if begin >= end_s - SAME_S), default=length_s)
        half_s = min(max(end_s - begin_s, wide_s), max(highest_s - lowest_s, end_s - begin_s)) / 2
        middle_s = min(max((begin_s + end_s) / 2, lowest_s + half_s), highest_s - half_s)
        found.append((middle_s - half_s, middle_s + half_s))
    return found


def _ends_s(one: LookedThrough, part: Proposal) -> tuple[float, float]:
    begin_s = one.start_s + part.start_frame / one.rate_hz
    return begin_s, begin_s + part.frames / one.rate_hz


def _listed(one: LookedThrough) -> str:
    """The proposals in words, by the numbers that stand in the picture."""
    lines = []
    proposals = one.survey.proposals
    for number, part in enumerate(proposals, 1):
        begin_s, end_s = _ends_s(one, part)
        marks_s = [one.start_s + mark_s for mark_s in part.marks_s]
        marks = " and ".join(marked(mark_s) for mark_s in marks_s)
        beside = "" if all(begin_s <= mark_s <= end_s for mark_s in marks_s) else "nearest to "
        why = [*(["differs most"] if part.telling else []), *([f"{beside}your mark at {marks}"] if marks else [])]
        lines.append(
            f"{number}   {told(begin_s, 1)} to {told(end_s, 1)}: {part.difference_sone:.1f} sone apart, "
            f"{part.loudness_sone:.0f} sone loud ({', '.join(why)})"
        )
    kinds = [
        *(
            ["shaded, with unbroken edges: chosen because they differ most"]
            if any(p.telling for p in proposals)
            else []
        ),
        *(
            ["white, with dashed edges: around a mark of yours (\u25bc), or nearest to it"]
            if not all(p.telling for p in proposals)
            else []
        ),
    ]
    if kinds:
        lines.append(f"Passages {'; '.join(kinds)}.")
    lines.append(SONE)
    if one.survey.skipped_s:
        lines.append(HATCHED if not _overlap(one) else f"{HATCHED.partition(';')[0]}.")
    return "\n".join(lines)


def _overlap(one: LookedThrough) -> bool:
    """Whether something is proposed out of step all the same: a track may have nothing else."""
    return any(
        one.start_s + begin_s < end - SAME_S and one.start_s + end_s > begin + SAME_S
        for begin, end in (_ends_s(one, part) for part in one.survey.proposals)
        for begin_s, end_s in one.survey.skipped_s
    )


def _level(axes: Any, one: LookedThrough) -> None:
    times_s, level_db = one.start_s + one.survey.moments_s, one.survey.levels_db
    axes.fill_between(times_s, LOWEST_DB, np.maximum(level_db, LOWEST_DB), color=FAINT, lw=0)
    axes.set_ylim(LOWEST_DB, max(10.0, float(level_db.max()) + 3))
    axes.set_yticks([-40, -20, 0])
    axes.set_ylabel("music's level, dB\n(its mean is 0)", fontsize=9)
    _along(axes, times_s, told_below=True)
    axes.annotate(
        _listed(one), (0, 0), (0, -44), xycoords="axes fraction", textcoords="offset points", fontsize=8.5, va="top"
    )


def _along(axes: Any, times_s: NDArray[np.float64], *, told_below: bool) -> None:
    """The time axis of a track."""
    first_s, last_s = float(times_s[0]), float(times_s[-1]) + LAST_S
    step_s = next((step for step in (1, 2, 5, 10, 15, 30, 60, 120, 300, 600) if (last_s - first_s) / step <= 14), 1200)
    ticks = np.arange(np.ceil(first_s / step_s) * step_s, last_s + 0.01, step_s)
    axes.set_xticks(ticks, [told(tick) for tick in ticks] if told_below else [""] * len(ticks))
    axes.set_xlim(first_s, last_s)
    axes.grid(True, axis="x", color="#d9dedb", lw=0.6)
    axes.set_axisbelow(True)
    if told_below:
        axes.set_xlabel("place in the track, minutes:seconds", fontsize=9)
