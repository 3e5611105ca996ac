"""Where everything of a picture stands: axes, what surrounds them, legends.

To measure words is what costs, so it is done once, carried along while axes find their places, and done again where
they came to stand: only what then differs is laid out once more. It draws nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

MOST_ROUNDS = 4  # of measuring: a fixed proportion is met step by step, mostly with the first
MOST_STEPS = 12  # of one round
SETTLED = 1e-12  # of a picture's width: far below what is written of a place
SIZES: WeakKeyDictionary[Any, tuple[Any, Any]] = WeakKeyDictionary()
"""By words: what their size follows from, and their box around the place where they are put."""
ALIKE_PX = 0.05  # a colour scale is as wide as a share of its axis: that is met to within this of 1200


@dataclass(frozen=True, eq=False)
class Surroundings:
    """What was measured of a picture: how far each axis reaches beyond its own frame, and the box of each legend.

    Attributes
    ----------
    reach_px
        Left, below, right and above of each axis, shape (axes, 4): without the lengths of titles and names of axes.
    legends
        In the picture's order.
    """

    reach_px: NDArray[np.float64]
    legends: list[Any]


def measured(figure: Any) -> Surroundings:
    """What surrounds the axes of a picture where they stand now."""
    reach = []
    for axes in figure.axes:
        with _worded_once(axes), ticked_once([axes]):
            whole = axes.get_tightbbox(for_layout_only=True)
        own = axes.get_window_extent()
        reach.append((own.x0 - whole.x0, own.y0 - whole.y0, whole.x1 - own.x1, whole.y1 - own.y1))
    return Surroundings(np.array(reach).reshape(-1, 4), [legend.get_tightbbox() for legend in figure.legends])


def placed(figure: Any, around: Surroundings) -> None:
    """Find every place with these surroundings, until nothing moves."""
    for _ in range(MOST_STEPS):
        before = _places(figure)
        _step(figure, around)
        if np.allclose(_places(figure), before, rtol=0, atol=SETTLED):
            break
    for axes in figure.axes:
        axes.apply_aspect()


def height_px(figure: Any, around: Surroundings) -> float:
    """From the lowest to the highest of axes and their words, once placed, and the legends' own heights."""
    ends = []
    for axes, (_, below, _, above) in zip(figure.axes, around.reach_px, strict=True):
        own, name = axes.get_window_extent(), axes.yaxis.label.get_window_extent()
        ends += [own.y0 - below, own.y1 + above, *((name.y0, name.y1) if name.height else ())]
    return float(max(ends) - min(ends) + sum(box.height for box in around.legends))


def settle(figure: Any, around: Surroundings) -> None:
    """Place everything for good.

    Which ticks an axis has would follow from its length, and its length from how wide they are: they are held.
    """
    _step(figure, around)
    for axes in figure.axes:
        low, high = sorted(axes.get_ylim())
        axes.set_yticks([tick for tick in axes.get_yticks() if low <= tick <= high])
    placed(figure, around)
    for axes in figure.axes:
        _tick_apart(axes)
    for _ in range(MOST_ROUNDS):
        before, around = around, measured(figure)
        if np.allclose(around.reach_px, before.reach_px, rtol=0, atol=ALIKE_PX):
            return
        placed(figure, around)


def _tick_apart(axes: Any) -> None:
    """Of numbers up the side keep every second or third if more would touch, with zero among them."""
    ticks = axes.get_yticks()
    in_words = hasattr(axes.yaxis.get_major_formatter(), "seq")  # each tick has its own: none may be left out
    if len(ticks) < 3 or in_words:
        return
    places = np.sort(axes.transData.transform([(axes.get_xlim()[0], tick) for tick in ticks])[:, 1])
    size_px = axes.yaxis.majorTicks[0].label1.get_size() / 72 * axes.figure.dpi
    every = int(np.ceil(size_px / max(float(np.diff(places).min()), 1e-6)))
    if every > 1:
        first = next((place for place, tick in enumerate(ticks) if tick == 0), 0)
        axes.set_yticks(ticks[first % every :: every])


@contextmanager
def _worded_once(axes: Any) -> Iterator[None]:
    """Words along an axis that are measured once: wherever they are moved, they stay as large as they were."""
    words = []
    for axis in (axes.xaxis, axes.yaxis):
        words += [axis.label, *(label for tick in axis.majorTicks for label in (tick.label1, tick.label2))]
    for one in words:
        one.get_window_extent = _remembered(one, one.get_window_extent)
    try:
        yield
    finally:
        for one in words:
            del one.get_window_extent


@contextmanager
def ticked_once(every: Sequence[Any]) -> Iterator[None]:
    """Axes whose ticks are found once, and once where their words stand: meanwhile nothing of them may move.

    They are asked for some ten times, by each line around the axes too. Axes within these are meant as well.
    """
    known = []
    whole = [one for axes in every for one in (axes, *axes.child_axes)]
    for axis in (axis for axes in whole for axis in (axes.xaxis, axes.yaxis)):
        for name in ("_update_ticks", "_get_ticklabel_bboxes"):
            if hasattr(axis, name):
                setattr(axis, name, _asked_once(getattr(axis, name)))
                known.append((axis, name))
    try:
        yield
    finally:
        for axis, name in known:
            delattr(axis, name)


def _asked_once(find: Any) -> Any:
    found = list[Any]()

    def once(*asked: Any) -> Any:
        if not found:
            found.append(find(*asked))
        return found[0]

    return once


def _remembered(words: Any, measure: Any) -> Any:
    def box(*_: Any, **__: Any) -> Any:
        x, y = words.get_transform().transform(words.get_unitless_position())
        look = (
            words.get_text(),
            words.get_fontsize(),
            words.get_rotation(),
            words.get_ha(),
            words.get_va(),
            words.figure.dpi,
        )
        known = SIZES.get(words)
        if known is None or known[0] != look:
            SIZES[words] = known = look, measure().translated(-x, -y)
        return known[1].translated(x, y)

    return box


def _step(figure: Any, around: Surroundings) -> None:
    with _carried(figure, around):
        figure.get_layout_engine().execute(figure)


@contextmanager
def _carried(figure: Any, around: Surroundings) -> Iterator[None]:
    """Axes and legends that tell what was measured, wherever they stand meanwhile."""
    every = [*figure.axes, *figure.legends]
    for axes, reach in zip(figure.axes, around.reach_px, strict=True):
        axes.get_tightbbox = _moved(axes, reach)
    for legend, box in zip(figure.legends, around.legends, strict=True):
        legend.get_tightbbox = lambda *_, own=box, **__: own
    try:
        yield
    finally:
        for one in every:
            del one.get_tightbbox


def _moved(axes: Any, reach: NDArray[np.float64]) -> Any:
    left, below, right, above = reach

    def box(*_: Any, **__: Any) -> Any:
        axes.apply_aspect()
        own = axes.get_window_extent()
        return axes.get_position().from_extents(own.x0 - left, own.y0 - below, own.x1 + right, own.y1 + above)

    return box


def _places(figure: Any) -> Any:
    """Where the axes stand: left, bottom, width and height of each, as parts of the picture."""
    return np.array([axes.get_position(original=True).bounds for axes in figure.axes])
