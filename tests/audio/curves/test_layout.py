from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from typing import Any

import numpy as np
import pytest

from audio.curves import draw, layout, maps, picture
from audio.curves.curve import Curve, log_grid
from audio.curves.decay import Decay

HZ = log_grid(20, 20_000, 12)
FLAT = Curve(HZ, np.zeros(len(HZ)), None, (20, 20_000))


def indices() -> Any:
    return draw.responses({"on axis": FLAT}, title="a title", note="a note " * 20, below={"sound power DI": FLAT})


def impedance() -> Any:
    return draw.impedance(HZ, 8 + HZ / 1000, 0.01 * HZ, note="a note " * 20)


def decay() -> Any:
    steps = np.linspace(0, 0.007, 20)
    levels = -4000 * steps[:, None] * np.ones(len(HZ))
    return maps.decay_map(Decay(HZ, steps, levels, np.full(20, 100.0), "s"), title="a title")


PICTURES = (indices, impedance, decay)


@pytest.fixture
def measurings(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    seen, own = list[Any](), layout.measured

    def measured(figure: Any) -> layout.Surroundings:
        seen.append(figure)
        return own(figure)

    monkeypatch.setattr(layout, "measured", measured)
    return seen


@pytest.mark.parametrize("made", PICTURES)
def test_everything_stands_where_the_librarys_own_layout_settles(made: Callable[[], Any]) -> None:
    """matplotlib's constrained layout, which measures all words anew each time, leaves a settled picture alone."""
    figure = made()
    engine = figure.get_layout_engine()
    picture.dressed(figure, picture.PLAIN)
    figure.draw_without_rendering()
    ours = [axes.get_position().bounds for axes in figure.axes]
    for _ in range(8):
        engine.execute(figure)
        figure.draw_without_rendering()
    theirs = [axes.get_position().bounds for axes in figure.axes]
    np.testing.assert_allclose(ours, theirs, rtol=0, atol=1e-4)


@pytest.mark.parametrize(("made", "most"), [(indices, 2), (impedance, 2), (decay, 4)])
def test_a_picture_is_measured_where_it_begins_and_where_it_ends(
    made: Callable[[], Any], most: int, measurings: list[Any]
) -> None:
    """A colour scale is as wide as a share of its axis: that is met step by step."""
    picture.dressed(made(), picture.PLAIN)
    assert 2 <= len(measurings) <= most


def test_what_words_take_is_found_once_for_all_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    from matplotlib.backends.backend_agg import RendererAgg

    picture.dressed(indices(), picture.PLAIN)
    monkeypatch.setattr(RendererAgg, "get_text_width_height_descent", None)
    picture.dressed(indices(), picture.PLAIN)


def test_what_was_measured_is_carried_only_while_places_are_found() -> None:
    figure = indices()
    around = layout.measured(figure)
    layout.placed(figure, around)
    assert not any("get_tightbbox" in vars(one) for one in (*figure.axes, *figure.legends))


@pytest.mark.parametrize("made", PICTURES)
def test_words_measured_before_are_as_large_as_if_measured_anew(made: Callable[[], Any]) -> None:
    """Moved, said otherwise, set in another size and in other dots."""
    figure = made()
    axes = figure.axes[0]
    for change in (
        lambda: layout.placed(figure, layout.measured(figure)),
        lambda: axes.set_yticks(axes.get_yticks(), ["a long word"] * len(axes.get_yticks())),
        lambda: axes.tick_params(labelsize=17),
        lambda: axes.tick_params(axis="x", labelrotation=30),
        lambda: figure.set_dpi(250),
    ):
        layout.measured(figure)
        change()
        found = layout.measured(figure)
        layout.SIZES.clear()
        np.testing.assert_allclose(found.reach_px, layout.measured(figure).reach_px, rtol=0, atol=1e-6)


def test_no_word_along_an_axis_is_measured_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    from matplotlib.text import Text

    asked, own = list[tuple[int, str]](), Text.get_window_extent

    def get_window_extent(words: Text, *given: Any, **named: Any) -> Any:
        asked.append((id(words), words.get_text()))
        return own(words, *given, **named)

    figure = indices()
    layout.measured(figure)
    monkeypatch.setattr(Text, "get_window_extent", get_window_extent)
    layout.SIZES.clear()
    for _ in range(2):
        layout.measured(figure)
    axes = figure.axes[0]
    ticks = {id(tick.label1) for axis in (axes.xaxis, axes.yaxis) for tick in axis.majorTicks}
    along = [one for one in asked if one[0] in ticks and one[1]]
    assert len(along) > 8
    assert len(along) == len({*along})


@pytest.mark.parametrize("drawn", PICTURES)
def test_ticks_found_once_change_no_picture(drawn: Callable[[], Any], monkeypatch: pytest.MonkeyPatch) -> None:
    once = picture.svg(drawn())
    monkeypatch.setattr(layout, "ticked_once", lambda _: nullcontext())
    assert once == picture.svg(drawn())


def test_words_are_as_large_as_the_library_measures_them_also_when_the_dots_change() -> None:
    from matplotlib.backends.backend_agg import RendererAgg

    library: Any = RendererAgg
    figure = picture.paper()
    words = figure.text(0.1, 0.1, "Two lines\nof words, gÅy", fontsize=9)
    for dots in (100, 272, 144):
        figure.set_dpi(dots)
        own, theirs = (
            words.get_window_extent(renderer).bounds for renderer in (figure.canvas.get_renderer(), library(1, 1, dots))
        )
        assert own == theirs
