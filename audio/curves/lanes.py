"""Words over their bands, in lanes above what a picture shows, so that they cover neither curves nor each other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from .palette import BAND, COLOURS, GRID, INK, SMALL_PT
from .words import wrap

LETTERS_PER_DECADE = 12.5  # of the smallest type, on the narrowest axes of a frame; 15 on a picture as it is drawn
LONGEST_LINE = 30
LINE_DB, BAR_DB = 3.6, 2.2  # of height, where 25 dB are as high as a decade is long


class Marked(NamedTuple):
    """Words that hold for a band, Hz; `firm` draws its bar whole, otherwise it is broken."""

    low_hz: float
    high_hz: float
    words: str
    firm: bool = True


class _Placed(NamedTuple):
    marked: Marked
    text: str
    centre: float
    wide: float

    @property
    def ends(self) -> tuple[float, float]:
        """What is taken up, in decades: by the words or by the bar, whichever is longer."""
        low, high = np.log10(self.marked.low_hz), np.log10(self.marked.high_hz)
        return min(float(low), self.centre - self.wide / 2), max(float(high), self.centre + self.wide / 2)


def in_lanes(marked: Sequence[Marked], ends_hz: tuple[float, float]) -> list[list[_Placed]]:
    """The words by lane, from the lowest: each in the first lane where it touches no other."""
    lanes: list[list[_Placed]] = []
    for one in marked:
        placed = _placed(one, ends_hz)
        low, high = placed.ends
        free = (lane for lane in lanes if all(high < other.ends[0] or low > other.ends[1] for other in lane))
        lane = next(free, None)
        if lane is None:
            lanes.append([placed])
        else:
            lane.append(placed)
    return lanes


def fitting(
    marked: Sequence[Marked], ends_hz: tuple[float, float], most_db: float
) -> tuple[list[Marked], list[Marked]]:
    """The words for which so much room is enough, in their order, the first ones first; and those that are left."""
    kept, left = list[Marked](), list[Marked]()
    for one in marked:
        (kept if height_db(in_lanes([*kept, one], ends_hz)) <= most_db else left).append(one)
    return kept, left


def height_db(lanes: Sequence[Sequence[_Placed]]) -> float:
    """How much room above the curves the lanes take."""
    return sum(_lane_db(lane) for lane in lanes)


def draw(axes: Any, lanes: Sequence[Sequence[_Placed]], bottom_db: float) -> None:
    """The lanes, from a level upwards, each band shaded down to the curves."""
    axes.axhline(bottom_db, color=GRID, lw=0.8, label="_lanes")
    level = bottom_db
    for lane in lanes:
        for one in lane:
            low, high, _, firm = one.marked
            axes.axvspan(low, high, facecolor=BAND, lw=0, zorder=0, alpha=0.45)
            axes.plot(
                [low, high], [level + BAR_DB / 2] * 2, color=COLOURS[2], lw=3.0, ls="-" if firm else (0, (1.2, 0.8)),
                solid_capstyle="butt", label="_heard",
            )  # fmt: skip
            axes.text(
                10**one.centre, level + BAR_DB, one.text, fontsize=SMALL_PT, ha="center", va="bottom", color=INK,
                linespacing=1.05,
            )  # fmt: skip
        level += _lane_db(lane)


def _placed(one: Marked, ends_hz: tuple[float, float]) -> _Placed:
    lines = wrap(one.words, LONGEST_LINE)
    wide = max(map(len, lines)) / LETTERS_PER_DECADE
    low, high = np.log10(ends_hz) + np.array([wide, -wide]) / 2
    centre = float(np.clip((np.log10(one.low_hz) + np.log10(one.high_hz)) / 2, low, high))
    return _Placed(one, "\n".join(lines), centre, wide)


def _lane_db(lane: Sequence[_Placed]) -> float:
    return BAR_DB + LINE_DB * max(one.text.count("\n") + 1 for one in lane)
