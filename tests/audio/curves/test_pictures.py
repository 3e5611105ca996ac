from __future__ import annotations

from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.curves import draw, frame, hatching, lanes, layout, maps, palette, picture, statement_table
from audio.curves.curve import Curve, log_grid
from audio.curves.decay import Decay
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


@pytest.mark.parametrize("size", ["", *frame.SIZES])
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
    figure = maps.polar_map({float(angle): bump(-abs(angle) / 10, low=200) for angle in (-30, 0, 30)})
    [axes] = figure.axes
    assert [child.get_ylabel() for child in axes.child_axes] == ["dB re the axis"]
    hatched = [patch for patch in axes.patches if patch.get_hatch()]
    assert next((patch.get_x(), patch.get_x() + patch.get_width()) for patch in hatched) == (20.0, pytest.approx(200))


def hatched_to(axes: Any) -> list[tuple[float, float]]:
    """The bands that are hatched from head to foot, Hz."""
    whole = [one for one in axes.patches if one.get_hatch()]
    return [(round(one.get_x()), round(one.get_x() + one.get_width())) for one in whole]


def test_phases_delays_and_slices_hatch_what_is_not_valid() -> None:
    hz = HZ[(HZ >= 200) & (HZ <= 10_000)]
    first, last = round(hz[0]), round(hz[-1])
    beyond = [(20, first), (last, 20_000)]
    [axes] = draw.phases(hz, {"measured": 0 * hz}, (first, last)).axes
    assert hatched_to(axes) == beyond
    [axes] = draw.delay(hz, np.where(hz > 0, 0.1, 0)).axes
    assert hatched_to(axes) == beyond
    steps = np.linspace(0, 0.01, 6)
    fallen = Decay(hz, steps, np.zeros((6, len(hz))), np.linspace(250, 600, 6), "s")
    assert hatched_to(maps.decay_slices(fallen).axes[0]) == [(20, 250), (last, 20_000)]


def test_a_decay_is_hatched_where_it_was_not_looked_for() -> None:
    """Modes of a cabinet are looked for up to 2 kHz: beyond that stands nothing, and that is no silence."""
    hz, steps = log_grid(40, 2000, 48), np.linspace(0, 0.1, 6)
    made = Decay(hz, steps, np.zeros((6, len(hz))), np.full(6, 100.0), "s", np.full(6, 20_000.0))
    [axes] = maps.decay_map(made).axes[:1]
    hatched = [one.get_paths()[0].vertices[:, 0] for one in axes.collections if one.get_hatch()]
    assert (round(hatched[0].min()), round(hatched[0].max())) == (20, 100)
    assert [x.max() for x in hatched][-1] == 20_000
    assert hatched[-1].min() == pytest.approx(2000, rel=0.03)


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


def test_an_impedance_is_broken_and_hatched_over_a_gap() -> None:
    hz = HZ[(HZ <= 500) | (HZ >= 5000)]
    axes, right = draw.impedance(hz, np.full(len(hz), 8.0), np.full(len(hz), 10.0)).axes
    for drawn in (axes.get_lines()[0], right.get_lines()[0]):
        at = np.flatnonzero(~np.isfinite(drawn.get_ydata()))
        assert [500 < drawn.get_xdata()[one] < 5000 for one in at] == [True]
    assert any(patch.get_hatch() for patch in axes.patches)


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


@pytest.mark.parametrize(("size", "most_db"), [("", None), ("1920x1080", 24.0), ("square", 45.0)])
def test_a_ballots_dozen_of_words_can_all_be_read_and_a_frame_takes_the_first_ones(
    size: str, most_db: float | None
) -> None:
    bands = [(20, 150), (60, 250), (4000, 8000), (100, 400)] * 3
    every = [Marked(*band, f"word number {n}: heard among several and measured") for n, band in enumerate(bands)]
    marked, left = lanes.fitting(every, hatching.HEARD_HZ, most_db or 1e9)
    assert (len(marked) + len(left), bool(left)) == (12, most_db is not None)
    assert marked[0] is every[0]
    figure = picture.dressed(draw.difference(bump(4), words="a less b", marked=marked), Look(size))
    axes = figure.axes[0]
    boxes = [text.get_window_extent() for text in axes.texts]
    assert len(boxes) == len(marked)
    assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))
    assert all(axes.get_window_extent().contains(*corner) for box in boxes for corner in (box.p0, box.p1))


def test_a_map_hatches_between_angles_where_nothing_was_measured() -> None:
    angles = [*range(-90, 91, 10), 180]
    [axes] = maps.polar_map({float(angle): bump(-abs(angle) / 10) for angle in angles}).axes
    hatched = [patch.get_extents().transformed(axes.transData.inverted()) for patch in axes.patches]
    assert [(round(box.y0), round(box.y1)) for box in hatched if box.y0 > 0] == [(90, 180)]
    filled = [path.vertices[:, 1].max() for drawn in axes.collections for path in drawn.get_paths() if len(path)]
    assert max(filled) <= 90


def many() -> Any:
    names = ("on axis", "listening window", "early reflections", "sound power")
    index = {"early reflections DI": bump(3)}
    return draw.responses(
        {name: bump(12 - 2 * n) for n, name in enumerate(names)}, note="said of it " * 16, below=index
    )


def loud() -> Any:
    return draw.impedance(HZ, 6 + 20 * np.exp(-((np.log2(HZ / 60) / 0.3) ** 2)), 40 * np.sin(np.log2(HZ)), note="kept")


def deep() -> Any:
    return draw.family({float(angle): bump(-angle / 4) for angle in range(0, 181, 10)}, note="1 m; 2.83 V; gate 5 ms")


def parted() -> Any:
    marked = [(1000.0, 4000.0, "woofer to tweeter: 2000 Hz")]
    return draw.responses({"tweeter": bump(30), "woofer": bump(20)}, note="levels are absolute", marked=marked)


FRAMES = ["1920x1080", "square"]  # and 3840x2160 is the first with more pixels


def test_numbers_up_a_low_axis_do_not_touch() -> None:
    """Two nearly flat responses with a caption, drawn as high as they need."""
    peak = np.exp(-np.square(np.log2(HZ / 180)))
    flat = {name: Curve(HZ, level_db * peak) for name, level_db in (("tansy", 0.5), ("vine", 4.0))}
    note = "1 m; 2.83 V; dB SPL; gate 20 ms, half-tukey\nat one level over 300 to 3000 Hz; 1/12-octave smoothing"
    figure = picture.dressed(draw.responses(flat, title="two", note=note), Look(""))
    boxes = [word.get_window_extent() for word in figure.axes[0].get_yticklabels() if word.get_text()]
    assert len(boxes) > 2
    assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))


@pytest.mark.parametrize("made", [many, loud, deep, parted])
@pytest.mark.parametrize("size", FRAMES)
def test_axes_fill_their_frame_and_no_words_touch(size: str, made: Any) -> None:
    """Three eighths of the frame are axes, the caption stands right below, words of ticks are apart, all is inside."""
    figure = picture.dressed(made(), Look(size))
    boxes_apart(figure)
    axes = figure.axes[0]
    place, whole = axes.get_window_extent(), figure.bbox
    assert place.width * place.height > 0.37 * whole.width * whole.height
    for words in (axes.get_xticklabels(), *(one.get_yticklabels() for one in figure.axes)):
        boxes = [word.get_window_extent() for word in words if word.get_text()]
        assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))
    line = palette.SMALL_PT / 72 * figure.dpi
    if figure._supxlabel is not None:
        assert axes.xaxis.label.get_window_extent().y0 - figure._supxlabel.get_window_extent().y1 < 2.5 * line
    assert not axes.texts  # nothing is written over curves


@pytest.mark.parametrize("size", ["", *FRAMES])
@pytest.mark.parametrize("db", [6.0, 30.0, 55.0])
def test_a_decade_is_as_long_as_ten_twenty_five_or_fifty_db_are_high(size: str, db: float) -> None:
    """The proportions of IEC 60263; the axis holds all that the curve needs."""
    figure = picture.dressed(draw.responses({"x": bump(db)}, note="note"), Look(size))
    figure.draw_without_rendering()
    [axes] = figure.axes
    place, (low, high) = axes.get_window_extent(), axes.get_ylim()
    assert min(abs((high - low) * place.width / place.height / 3 / scale - 1) for scale in (10, 25, 50)) < 0.02
    assert (low <= max(0, db - 45), high > db) == (True, True)


def test_words_of_ticks_that_would_touch_are_left_out() -> None:
    figure = draw.responses({"x": bump(6)})
    figure.set_size_inches(1.6, 2)
    layout.settle(figure, layout.measured(figure))
    frame.thin_out(figure)
    figure.draw_without_rendering()
    words = [word for word in figure.axes[0].get_xticklabels() if word.get_text()]
    assert {"100", "1k", "10k"} <= {word.get_text() for word in words}
    assert not any(a.get_window_extent().overlaps(b.get_window_extent()) for a, b in combinations(words, 2))


@pytest.mark.parametrize("size", ["1920x1080", "square"])
@pytest.mark.parametrize("rows", [5, 11])
def test_a_table_fills_its_frame_with_a_margin(size: str, rows: int) -> None:
    """Its smallest type is 8 pixels high or more on a screen 390 pixels wide, 6.5 if there are more than ten rows."""
    words = ("what was measured", "how it was measured, in several words", "-0.24 to +0.12 dB")
    figure = picture.dressed(
        statement_table.statements(("measured", "how", "value"), [words] * rows, note="note"), Look(size)
    )
    boxes_apart(figure)
    [axes] = figure.axes
    boxes = [text.get_window_extent() for text in axes.texts]
    assert min(box.y0 for box in boxes) > 0.01 * figure.bbox.height
    assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))
    assert 10 / 72 * 390 / figure.get_figwidth() >= (8 if rows < 10 else 6.5)


@pytest.mark.parametrize("paper", [0, 128, 255])
def test_words_without_paper_are_read_on_black_grey_and_white(paper: int, tmp_path: Path) -> None:
    """Around the title both the ink and its outline are there: a ratio of 4.5 of luminances with each other."""
    picture.write(
        draw.responses({"x": bump(6)}, title="MMMMMMMM"), tmp_path / "a.png", Look("square", transparent=True)
    )
    seen = pixels(tmp_path / "a.png").astype(float)[:60, 100:500]
    alpha = seen[..., 3:] / 255
    shown = seen[..., :3] * alpha + paper * (1 - alpha)
    light = np.where(shown / 255 <= 0.04045, shown / 255 / 12.92, ((shown / 255 + 0.055) / 1.055) ** 2.4)
    grey = light @ (0.2126, 0.7152, 0.0722)
    assert (grey > 0.95).sum() > 500
    assert (grey < 0.05).sum() > 500


@pytest.mark.parametrize("longest_ms", [3.0, 7.2, 12.5, 1200.0])
def test_the_words_of_a_decay_s_axes_are_on_the_picture(longest_ms: float) -> None:
    """Also where the ticks' words get wider once the axis is as long as it will be."""
    steps = np.linspace(0, longest_ms / 1000, 40)
    decay = Decay(HZ, steps, -np.add.outer(10 * np.arange(40), 0 * HZ), np.linspace(200, 400, 40), "s")
    boxes_apart(picture.dressed(maps.decay_map(decay, title="a: decay", note="5 ms looked at; 1 m; " * 6), Look()))


@pytest.mark.parametrize("size", ["1920x1080", "3840x2160", "square"])
@pytest.mark.parametrize("long", [4, 14])
def test_a_long_caption_is_cut_before_type_gets_too_small_for_a_telephone(size: str, long: int) -> None:
    """390 pixels wide the smallest type is 11 pixels high or more; the whole caption is kept for the text beside."""
    note = "; ".join(f"said of it {number}" for number in range(6 * long))
    figure = picture.dressed(draw.difference(bump(6), title="a less b", words="a less b", note=note), Look(size))
    assert palette.SMALL_PT / 72 * 390 / figure.get_figwidth() >= 10.99
    boxes_apart(figure)
    landscape = figure._supxlabel is not None
    shown = (figure._supxlabel if landscape else figure.axes[0].xaxis.label).get_text()
    whole = " ".join(note.split()) in " ".join(shown.split())
    assert whole != ("…" in shown)
    assert frame.CUT.get(figure, "") == ("" if whole else note)
    assert not (long == 14 and whole and landscape)


def test_a_users_own_settings_of_the_library_change_no_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    import matplotlib as mpl

    plain = picture.svg(draw.responses({"x": bump(6)}))
    monkeypatch.setitem(mpl.rcParams, "lines.linewidth", 9.0)
    monkeypatch.setitem(mpl.rcParams, "axes.linewidth", 9.0)
    picture.load.cache_clear()  # as at the start of a program, which has read them by then
    assert picture.svg(draw.responses({"x": bump(6)})) == plain


def test_an_svg_is_what_the_librarys_own_canvas_writes() -> None:
    import io

    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    for db in (6, 9):  # the second finds most of its words measured
        own, other = (draw.responses({"x": bump(db)}, note="frequency, level") for _ in range(2))
        mine = picture.svg(own, Look(dark=True))
        out = io.StringIO()
        with mpl.rc_context({"svg.hashsalt": "earwitness", "svg.fonttype": "none"}):
            canvas: Any = FigureCanvasSVG(picture.dressed(other, Look(dark=True)))
            canvas.print_svg(out, metadata={"Date": None, "Creator": None})
        assert mine == out.getvalue()[out.getvalue().index("<svg") :]
