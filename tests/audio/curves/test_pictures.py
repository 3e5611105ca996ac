from __future__ import annotations

from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.curves import draw, picture
from audio.curves.curve import Curve, log_grid
from audio.curves.lanes import Marked
from audio.curves.picture import Look
from audio.errors import FileError

HZ = log_grid(20, 20_000, 12)


def bump(db: float, low: float = 20.0) -> Curve:
    return Curve(HZ, db * np.exp(-((np.log2(HZ / 1000) / 0.5) ** 2)), None, (low, 20_000))


def pixels(path: Path) -> np.ndarray:
    from PIL import Image

    return np.asarray(Image.open(path).convert("RGBA"))


def boxes_apart(figure: Any) -> None:
    """The legend covers no axes, and no word leaves the picture."""
    figure.draw_without_rendering()
    whole = figure.bbox
    for legend in figure.legends:
        box = legend.get_window_extent()
        assert not any(box.overlaps(axes.get_window_extent()) for axes in figure.axes)
    for axes in figure.axes:
        box = axes.get_tightbbox()
        assert (box.x0 > -1, box.y0 > -1, box.x1 < whole.x1 + 1, box.y1 < whole.y1 + 1) == (True,) * 4


@pytest.mark.parametrize("size", ["", *picture.SIZES])
def test_legends_and_long_notes_stay_on_the_picture_and_off_the_curves(size: str) -> None:
    names = {f"a loudspeaker with a name as long as this one, number {n}": bump(n) for n in range(1, 5)}
    figure = draw.responses(names, title="a title " * 12, note="a note that says much about conditions " * 6)
    boxes_apart(picture.dressed(figure, Look(size)))


@pytest.mark.parametrize(("size", "shape"), [("1920x1080", (1080, 1920)), ("square", (1080, 1080))])
def test_a_picture_has_the_size_that_was_asked_for(size: str, shape: tuple[int, int], tmp_path: Path) -> None:
    picture.write(draw.responses({"x": bump(6)}), tmp_path / "a.png", Look(size))
    assert pixels(tmp_path / "a.png").shape[:2] == shape


def test_an_unknown_size_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="no picture size is called 'huge'; name one of 1920x1080"):
        picture.write(draw.responses({"x": bump(6)}), tmp_path / "a.png", Look("huge"))


def test_dark_is_dark_with_light_words_and_transparent_has_no_paper(tmp_path: Path) -> None:
    for name, look in (("dark", Look(dark=True)), ("none", Look(transparent=True))):
        picture.write(draw.responses({"x": bump(6)}, title="words"), tmp_path / f"{name}.png", look)
    dark = pixels(tmp_path / "dark.png")
    assert tuple(dark[2, 2]) == (0x12, 0x18, 0x1C, 255)
    assert (dark[..., :3].min(axis=2) > 200).sum() > 500  # light words
    assert (dark[..., :3].max(axis=2) < 10).sum() == 0  # and none in black
    assert pixels(tmp_path / "none.png")[2, 2, 3] == 0


def test_an_axis_is_no_taller_than_what_is_shown_needs() -> None:
    low, high = draw.responses({"x": bump(6)}).axes[0].get_ylim()
    assert (low, high) == (-10, 10)
    deep = Curve(HZ, np.where(HZ > 100, 0.0, -80.0))
    assert np.ptp(draw.responses({"x": deep}).axes[0].get_ylim()) == 50


def test_a_difference_has_a_bold_zero_and_a_band_of_its_uncertainty() -> None:
    [axes] = draw.difference(bump(4), uncertainty_db=0.5, words="a less b").axes
    [zero] = [line for line in axes.get_lines() if line.get_label() == "_zero"]
    assert (list(zero.get_ydata()), zero.get_linewidth() > 2) == ([0, 0], True)
    [band] = [one for one in axes.collections if one.get_label() == "_repeats"]
    edges = band.get_paths()[0].vertices[:, 1]
    assert (edges.min(), edges.max()) == (pytest.approx(-0.5, abs=0.01), pytest.approx(4.5, abs=0.01))


def test_maps_have_a_scale_and_hatch_what_is_not_valid() -> None:
    figure = draw.polar_map({float(angle): bump(-abs(angle) / 10, low=200) for angle in (-30, 0, 30)})
    [axes] = figure.axes
    assert [child.get_ylabel() for child in axes.child_axes] == ["dB re the axis"]
    hatched = [patch for patch in axes.patches if patch.get_hatch()]
    assert next((patch.get_x(), patch.get_x() + patch.get_width()) for patch in hatched) == (20.0, pytest.approx(200))


def test_a_harmonic_is_not_joined_across_a_gap_and_reads_in_per_cent_too() -> None:
    flat, clear = np.zeros(len(HZ)), (HZ < 200) | (HZ > 400)
    name = "harmonic 2"
    [axes] = draw.distortion({name: Curve(HZ, flat - 40)}, {name: clear}, {name: Curve(HZ, flat - 70)}).axes
    line, floor = axes.get_lines()
    assert np.isnan(line.get_ydata()).sum() == (~clear).sum() > 5
    assert floor.get_ydata()[0] == -70
    [percent] = axes.child_axes
    ticks = dict(zip([text.get_text() for text in percent.get_yticklabels()], percent.get_yticks(), strict=True))
    assert ticks["1 %"] == pytest.approx(-40)


def test_impedance_is_fitted_and_shows_the_rating() -> None:
    ohm = 6 + 20 * np.exp(-((np.log2(HZ / 60) / 0.3) ** 2))
    axes, right = draw.impedance(HZ, ohm, 40 * np.sin(np.log2(HZ)), rating_ohm=6).axes
    assert axes.get_ylim() == (0, 30)
    assert right.get_ylim() == (-60, 60)
    assert [line.get_ydata()[0] for line in axes.get_lines() if "rating" in line.get_label()] == [pytest.approx(4.8)]


def test_the_palette_of_maps_gets_ever_lighter() -> None:
    red, green, blue, _ = picture.map_colours()(np.linspace(0, 1, 50)).T
    assert (np.diff(0.2126 * red + 0.7152 * green + 0.0722 * blue) > 0).all()


@pytest.mark.parametrize("size", ["", "1920x1080", "3840x2160", "square"])
def test_type_is_large_enough_on_a_telephone_held_upright(size: str) -> None:
    """On a screen 390 pixels wide, between a page's margins of 20, the smallest type is 11 pixels high or more."""
    figure = picture.dressed(draw.responses({"x": bump(6)}, note="note"), Look(size))
    smallest = min(figure.axes[0].xaxis.label.get_fontsize(), figure.legends[0].get_texts()[0].get_fontsize())
    assert smallest / 72 * (350 if size == "" else 390) / figure.get_figwidth() >= 10.99


def test_indices_stand_at_the_foot_on_an_axis_of_their_own_with_as_many_db_to_the_height() -> None:
    axes, right = draw.responses({"on axis": bump(6)}, below={"sound power DI": bump(4)}).axes
    assert right.get_lines()[0].get_label() == "sound power DI"
    assert np.ptp(right.get_ylim()) == np.ptp(axes.get_ylim())
    assert right.get_ylim()[0] == 0


def test_words_stand_above_the_curve_over_their_bands_and_touch_no_other(tmp_path: Path) -> None:
    marked = [Marked(4000, 8000, "bright: a, blind"), Marked(5000, 20_000, "dull: b, sighted", firm=False),
              Marked(60, 250, "boomy: a, blind"), Marked(20, 40, "deep: " + "long name " * 8)]  # fmt: skip
    figure = picture.dressed(draw.difference(bump(4), words="a less b", marked=marked), Look())
    boxes_apart(figure)
    [axes] = figure.axes
    boxes = {text.get_text(): text.get_window_extent() for text in axes.texts}
    assert not any(one.overlaps(other) for one, other in combinations(boxes.values(), 2))
    assert all(axes.get_window_extent().contains(*corner) for box in boxes.values() for corner in (box.p0, box.p1))
    assert min(text.get_position()[1] for text in axes.texts) > 10  # above what the curve's own axis spans
    bars = {tuple(line.get_xdata()): line.get_linestyle() for line in axes.get_lines() if line.get_label() == "_heard"}
    assert (bars[(4000, 8000)] == "-", bars[(5000, 20_000)] == "-") == (True, False)
    high, decades = axes.get_ylim()[1] - axes.get_ylim()[0], 3
    assert axes.get_box_aspect() == pytest.approx(high / 25 / decades)  # a decibel stays as high as it is


def test_a_map_hatches_between_angles_where_nothing_was_measured() -> None:
    angles = [*range(-90, 91, 10), 180]
    [axes] = draw.polar_map({float(angle): bump(-abs(angle) / 10) for angle in angles}).axes
    hatched = [patch.get_extents().transformed(axes.transData.inverted()) for patch in axes.patches]
    assert [(round(box.y0), round(box.y1)) for box in hatched if box.y0 > 0] == [(90, 180)]
    filled = [path.vertices[:, 1].max() for drawn in axes.collections for path in drawn.get_paths() if len(path)]
    assert max(filled) <= 90
