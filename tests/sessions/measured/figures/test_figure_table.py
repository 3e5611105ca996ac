from __future__ import annotations

import json
import shutil
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.curves import picture, sweep
from audio.curves.curve import Curve
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook, open_casebook
from sessions.errors import CatalogueError
from sessions.measured import curve_import, curve_records, fact_rows, makers_facts
from sessions.measured.conditions import ON_AXIS, Conditions, Direction
from sessions.measured.curve_comparison import compare_setups
from sessions.measured.curve_import import Reading
from sessions.measured.curve_records import NewCurve, RawFile
from sessions.measured.figures.figure import Subject, Telling
from sessions.measured.figures.figure_table import FIGURES, named
from sessions.measured.figures.needs import NotMeasured
from sessions.measured.member import SIDES, Member
from sessions.measured.taken import Taken

from ..measured_files import HZ, write_impulse, write_level


@pytest.fixture(scope="module")
def subject(matched_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Subject:
    """All that can be measured of sallow, on both sides but not everywhere, and a comparison with bracken."""
    tmp_path = tmp_path_factory.mktemp("measured")
    shutil.copytree(matched_folder, tmp_path / "book")
    with open_casebook(tmp_path / "book") as casebook:
        return _subject(casebook, tmp_path)


def _subject(casebook: Casebook, tmp_path: Path) -> Subject:
    sallow, bracken = (catalogue.find(casebook, Setup, name) for name in ("sallow", "bracken"))
    for setup in (sallow, bracken):
        folder = tmp_path / setup.name
        folder.mkdir()
        write_impulse(folder / "hor 0.wav", frames=9600)
        for plane, angle in (("hor", -30), ("hor", 10), ("hor", 20), ("hor", 30), ("vert", 10), ("vert", -10)):
            peak = 6 * np.exp(-((np.log2(HZ / 1000) / 0.05) ** 2))  # narrow: smoothing would lower it
            write_level(folder / f"{plane} {angle}.txt", peak - abs(angle) / 10)
        curve_import.bring(casebook, setup, folder, Reading(), Conditions(gate_ms=20.0))
    ohm = tmp_path / "ohm.txt"
    hz = (20, 25, 40, 63, *range(100, 20_001, 50))
    ohm.write_text("".join(f"{f} {'4.5 -20' if f == 1000 else '9 45'}\n" for f in hz))
    curve_import.bring(casebook, sallow, ohm, Reading("ohm"), Conditions())
    for order in (3, 2):
        data = np.stack([HZ, np.full(len(HZ), -50.0 - order)], axis=1)
        new = NewCurve("distortion", ON_AXIS, data, Conditions(harmonic=order))
        curve_records.keep(casebook, sallow, [(RawFile.of("a", b"a"), [new])])
    _bring_sets(casebook, sallow, tmp_path)
    for what, value in (("nominal impedance", "8 ohm"), ("range", "45 Hz - 22 kHz ±3 dB"), ("weight", "9 kg")):
        fact_rows.keep(casebook, sallow, what, value, "data sheet, May 2026")
    facts, measured = makers_facts.of_setup(casebook, sallow), curve_records.of_setup(casebook, sallow)
    return Subject(measured, 12.0, compare_setups(casebook, sallow, bracken), facts)


def _bring_sets(casebook: Casebook, setup: Setup, folder: Path) -> None:
    """Drivers, places, seatings, two sides at two levels: what figures of several curves are made of."""
    sets = [Conditions(member=Member(role=role)) for role in ("woofer", "tweeter")]
    sets += [Conditions(member=Member(place=place)) for place in ("ear left", "ear right")]
    sets += [Conditions(member=Member(coupler="ear simulator", seating=number)) for number in (1, 2)]
    sets += [Conditions(member=Member(side="left"))]
    sets += [Conditions(spl=True, drive_volts=volts, member=Member(side="right")) for volts in (1.0, 2.0)]
    for number, stated in enumerate(sets):
        ripple = number / 10 * np.sin(np.log2(HZ))
        write_level(folder / "set.txt", ripple)
        curve_import.bring(casebook, setup, folder / "set.txt", Reading(), stated)
    _bring_loop(casebook, setup)
    # the newest on axis is an impulse response again, as the first
    write_impulse(folder / "axis.wav", frames=9600)
    curve_import.bring(casebook, setup, folder / "axis.wav", Reading(), Conditions(gate_ms=20.0))


def _bring_loop(casebook: Casebook, setup: Setup) -> None:
    """A run of a loop: a flat response, noise at -100 dBFS a line, a tone, crosstalk of -60 dB over noise at -90 dB."""
    lines = np.arange(10.0, 21_000.0, 2.0)
    quiet, impulse = np.full(len(lines), -100.0), np.zeros(24_000)
    impulse[4800] = 1.0
    taken = Taken(sweep.sweep(10, 20_000, 1.0, 48_000, 0.1), 1, (1,), -90.0, {})
    taken = taken.with_floor(Curve(lines, quiet + 10))
    run = []
    for side in SIDES:
        spectra = {"noise": quiet, "tone": np.where(lines == 1000, -20.0, quiet), "crosstalk": quiet + 40}
        run.append(NewCurve("impulse", ON_AXIS, impulse, Conditions(gate_ms=200, member=Member(side=side)), 48_000))
        for quantity, level in spectra.items():
            member = Member(side=side, quantity=quantity, tone_hz=1000.0 if quantity == "tone" else 0.0)  # type: ignore[arg-type]
            stated = Conditions(taken=taken if quantity == "crosstalk" else None, member=member)
            run.append(NewCurve("response", ON_AXIS, np.stack([lines, level], axis=1), stated))
    curve_records.keep(casebook, setup, [(RawFile.of("loop", b"loop"), run)])


@pytest.fixture
def nothing(casebook: Casebook, bracken: Setup) -> Subject:
    return Subject(curve_records.of_setup(casebook, bracken))


def test_an_impedance_has_neither_distance_nor_gate_under_it(subject: Subject) -> None:
    ohm = subject.measured.impedance
    assert ohm is not None
    stated = replace(ohm, conditions=replace(ohm.conditions, distance_m=1.0, drive_volts=2.83, gate_ms=400.0))
    drawn = named("impedance").of(replace(subject, measured=replace(subject.measured, impedance=stated))).drawn()
    words = drawn.axes[0].get_xlabel()
    assert "2.83 V; kept 20" in words
    assert "gate" not in words
    assert "1 m" not in words


def lines(drawn: Any) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """The curves of a picture by their names."""
    axes = drawn.axes[0]
    return {line.get_label(): line.get_data() for line in axes.get_lines() if not line.get_label().startswith("_")}


@pytest.mark.parametrize("what", FIGURES)
def test_every_figure_has_its_numbers_and_its_picture_which_shows_them(
    subject: Subject, what: str, tmp_path: Path
) -> None:
    data = named(what).of(subject)
    document, drawn = data.to_document(), data.drawn()
    assert document
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    drawn_alike(what, document, drawn)
    picture.write(drawn, tmp_path / "picture.png")
    assert (tmp_path / "picture.png").stat().st_size > 10_000
    assert all(data.sentences()) if isinstance(data, Telling) else True


def assert_drawn_as_numbers(drawn: Any, numbers: Mapping[str, Mapping[str, list[float]]]) -> None:
    """Every line of the picture passes through the numbers of its name."""
    shown = lines(drawn)
    assert shown
    for name, (hz, db) in shown.items():
        seen = np.isfinite(db)
        at = np.array(numbers[name]["hz"])
        inside = (at >= hz[seen][0]) & (at <= hz[seen][-1])
        assert inside.any()
        there = np.interp(np.log(at[inside]), np.log(hz[seen]), db[seen])
        assert np.array(numbers[name]["db"])[inside] == pytest.approx(there, abs=0.01), name


@pytest.mark.parametrize("smoothing", [0.0, 3.0])
def test_pictures_show_the_very_numbers(subject: Subject, smoothing: float) -> None:
    subject = replace(subject, smoothing=smoothing)
    for plane in ("horizontal", "vertical"):
        family = named(plane).of(subject)
        numbers = {f"{int(a):+d}°" if int(a) else "on axis": curve for a, curve in family.to_document().items()}
        assert_drawn_as_numbers(family.drawn(), numbers)
    both = named("response").of(subject)
    assert_drawn_as_numbers(both.drawn(), both.to_document())
    difference = named("difference").of(subject)
    assert_drawn_as_numbers(difference.drawn(), {"sallow less bracken": difference.to_document()["difference"]})
    distortion = named("distortion").of(subject)
    assert_drawn_as_numbers(distortion.drawn(), distortion.to_document())


def test_the_directivity_s_picture_invents_no_angle_and_smooths_nothing(subject: Subject) -> None:
    """Both sides were measured, the left one not everywhere: the listening window lacks, in numbers and picture."""
    data = named("directivity").of(subject)
    document = data.to_document()
    assert document["mirrored"] is False
    assert document["lacking"]["listening window"] == "needs horizontal -20°, horizontal -10°"
    drawn = data.drawn()
    assert set(lines(drawn)) == {"on axis"}
    assert "not smoothed" in drawn.axes[0].get_xlabel().replace("\n", " ")
    assert "listening window needs horizontal -20°" in drawn.axes[0].get_xlabel().replace("\n", " ")


def test_one_measured_side_is_drawn_for_both_and_the_picture_says_so(subject: Subject) -> None:
    one_side = {where: kept for where, kept in subject.measured.directions.items() if where != ("horizontal", -30)}
    measured = replace(subject.measured, directions=one_side, everything=list(one_side.values()))
    data = named("directivity").of(replace(subject, measured=measured, smoothing=3.0))
    document, drawn = data.to_document(), data.drawn()
    assert document["mirrored"] is True
    assert "sound power" in document["lacking"]
    assert "one side was measured and stands for the other" in drawn.axes[0].get_xlabel().replace("\n", " ")
    assert set(lines(drawn)) == {"on axis", "listening window"}
    assert_drawn_as_numbers(drawn, document["curves"])


@pytest.mark.parametrize("what", ["directivity", "horizontal", "vertical"])
def test_levels_by_angle_are_db_spl_where_all_of_them_are(subject: Subject, what: str) -> None:
    found = subject.measured.directions
    spl = {where: replace(kept, conditions=replace(kept.conditions, spl=True)) for where, kept in found.items()}
    for directions, unit in ((found, "dB"), (spl, "dB SPL")):
        measured = replace(subject.measured, directions=directions, everything=list(directions.values()))
        assert named(what).of(replace(subject, measured=measured)).drawn().axes[0].get_ylabel() == f"level, {unit}"


def test_a_burst_decay_has_a_level_for_every_step_and_frequency(subject: Subject) -> None:
    burst = named("burst").of(subject).to_document()
    assert np.shape(burst["level_db"]) == (len(burst["steps"]), len(burst["hz"]))


def test_the_excess_phase_is_what_is_beyond_the_minimum(subject: Subject) -> None:
    document = named("phase").of(subject).to_document()
    beyond = np.array(document["measured_deg"]) - np.array(document["minimum_deg"])
    assert document["excess_deg"] == pytest.approx(beyond, abs=1e-3)


def test_a_step_response_begins_before_its_onset(subject: Subject) -> None:
    step = named("step").of(subject).to_document()
    assert step["from_onset_frames"] == -48
    assert step["amplitude"][:48] == [0.0] * 48
    assert step["amplitude"][48:] == [1.0] * 480


@pytest.mark.parametrize("what", [name for name in FIGURES if name != "difference"])
def test_what_was_not_measured_is_named(nothing: Subject, what: str) -> None:
    lacks = {
        "impedance": "has no impedance yet",
        "distortion": "has no distortion yet",
        "facts": "nothing is kept of",
        "drivers": "has no curve of a driver yet",
        "pair": "needs both sides",
        "places": "fewer than two places",
        "seatings": "has no seating on a coupler yet",
        "compression": "was not swept alike at two levels",
        **dict.fromkeys(("electronics", "spectrum", "crosstalk"), "was not measured through a line loop yet"),
    }
    with pytest.raises(NotMeasured, match=lacks.get(what, "has no curve on axis yet")):
        named(what).of(nothing)


def test_a_difference_needs_a_second_curve(subject: Subject) -> None:
    with pytest.raises(CatalogueError, match="needs a second setup with a curve"):
        named("difference").of(replace(subject, comparison=None))


@pytest.mark.parametrize("what", ["decay", "slices", "burst", "step"])
def test_what_follows_from_an_impulse_response_is_refused_without_one(
    casebook: Casebook, bracken: Setup, tmp_path: Path, what: str
) -> None:
    curve_import.bring(casebook, bracken, write_level(tmp_path / "a.txt", 0), Reading(), Conditions())
    with pytest.raises(CatalogueError, match=f"{what} follows from an impulse response; add one as WAV"):
        named(what).of(Subject(curve_records.of_setup(casebook, bracken)))


@pytest.mark.parametrize("what", ["horizontal", "vertical", "polar"])
def test_too_few_angles_give_neither_a_picture_nor_its_numbers(
    casebook: Casebook, bracken: Setup, tmp_path: Path, what: str
) -> None:
    curve_import.bring(casebook, bracken, write_level(tmp_path / "a.txt", 0), Reading(), Conditions())
    with pytest.raises(CatalogueError, match="angles for a picture; measure three or more"):
        named(what).of(Subject(curve_records.of_setup(casebook, bracken)))


@pytest.mark.parametrize("what", ["polar", "horizontal", "decay", "burst", "slices", "delay"])
def test_a_measured_set_is_drawn(casebook: Casebook, sallow: Setup, tmp_path: Path, what: str) -> None:
    """Debian's libmysofa1 ships measured head-related responses; here they stand for a set of angles."""
    path = Path("/usr/share/libmysofa/MIT_KEMAR_normal_pinna.sofa")
    curve_import.bring(casebook, sallow, path, Reading(), Conditions())
    picture.write(named(what).of(Subject(curve_records.of_setup(casebook, sallow), 6.0)).drawn(), tmp_path / "a.png")
    assert (tmp_path / "a.png").stat().st_size > 10_000


def test_an_angle_between_whole_degrees_is_drawn(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    for angle in ("0", "22.5", "45"):
        write_level(tmp_path / f"hor {angle}.txt", 80 - float(angle) / 10)
    curve_import.bring(casebook, sallow, tmp_path, Reading(), Conditions())
    for what in ("horizontal", "polar"):
        data = named(what).of(Subject(curve_records.of_setup(casebook, sallow)))
        picture.write(data.drawn(), tmp_path / f"{what}.svg")
        assert list(data.to_document()) == ["0", "22.5", "45"]
    assert "+22.5°" in (tmp_path / "horizontal.svg").read_text()


@pytest.mark.parametrize("what", ["response", "decay", "slices", "burst", "step", "delay", "phase"])
def test_a_single_curve_s_picture_says_its_own_direction(
    casebook: Casebook, sallow: Setup, tmp_path: Path, what: str
) -> None:
    path = write_impulse(tmp_path / "a.wav", frames=9600)
    off = Reading(direction=Direction("vertical", -15))
    kept = curve_import.bring(casebook, sallow, path, off, Conditions(gate_ms=20.0)).curves[0]
    drawn = named(what).of(Subject(curve_records.alone(casebook, kept))).drawn()
    title = drawn.axes[0].get_title(loc="left")
    assert title.startswith("sallow, vertical -15°")
    assert "on axis" not in title


def xy(drawn: Any, axes: int = 0) -> list[tuple[np.ndarray, np.ndarray]]:
    """The data of every line of a picture that has more than two points."""
    return [
        tuple(map(np.asarray, line.get_data())) for line in drawn.axes[axes].get_lines() if len(line.get_xdata()) > 2
    ]


def assert_line(points: tuple[np.ndarray, np.ndarray], at: Any, values: Any, within: float) -> None:
    """A line passes through all these numbers that lie within what it shows."""
    x, y = points
    seen = np.isfinite(y)
    at, values = np.asarray(at), np.asarray(values)
    inside = (at >= x[seen][0] - 1e-3) & (at <= x[seen][-1] + 1e-3)
    assert inside.sum() > 10
    assert values[inside] == pytest.approx(np.interp(at[inside], x[seen], y[seen]), abs=within)


def field(drawn: Any) -> list[tuple[float, np.ndarray]]:
    """The levels of a map and the corners of what is filled between each and the next."""
    filled = drawn.axes[0].collections[0]
    below = [filled.levels[0] - 3] if filled.extend in ("both", "min") else []  # one colour more for all that is lower
    return [(level, path.vertices) for level, path in zip([*below, *filled.levels], filled.get_paths(), strict=False)]


def assert_map(drawn: Any, x: Any, y: Any, level_db: Any, lowest: float) -> None:
    """Every edge of the map's colours lies where the numbers say that level."""
    from scipy.interpolate import RegularGridInterpolator

    x = np.asarray(x)
    read = RegularGridInterpolator((np.asarray(y), np.log(x)), np.maximum(level_db, lowest), bounds_error=False)
    edges = 0
    for level, vertices in field(drawn):
        inside = (vertices[:, 0] > x[0] * 1.01) & (vertices[:, 0] < x[-1] / 1.01)
        inside &= (vertices[:, 1] > np.min(y) + 1e-6) & (vertices[:, 1] < np.max(y) - 1e-6)
        found = read(np.stack([vertices[inside, 1], np.log(vertices[inside, 0])], axis=1))
        apart = np.minimum(np.abs(found - level), np.abs(found - level - 3))  # a filled step ends at the next level
        edges += len(apart)
        assert np.nanmax(apart, initial=0) < 0.3
    assert edges > 20


def named_numbers(what: str, document: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The numbers of a figure of several curves, by what the picture calls them."""
    if what == "drivers":
        return document["curves"] | ({"sum, calculated": document["sum"]} if "sum" in document else {})
    if what == "pair":
        return {side: document[side] for side in SIDES}
    if what == "compression":
        return dict(document["levels"])
    means = {name: one for name, one in document.items() if isinstance(one, dict)}
    many = {name: len(one["of"]) for name, one in means.items()}
    return {
        f"{name}, mean of {many[name]}" if name != "mean" else f"mean of {many[name]}": one
        for name, one in means.items()
    }


def drawn_alike(what: str, document: dict[str, Any], drawn: Any) -> None:
    """That the picture of a kind shows what its numbers say; by kind, since each has its own axes."""
    if what in ("horizontal", "vertical"):
        numbers = {f"{int(a):+d}°" if int(a) else "on axis": curve for a, curve in document.items()}
        assert_drawn_as_numbers(drawn, numbers)
        assert set(lines(drawn)) == set(numbers)  # no angle that the numbers lack
    elif what.startswith("polar"):
        angles = [float(a) for a in document]
        assert list(drawn.axes[0].get_ylim()) == [min(angles), max(angles)]
        rows = [dict(zip(curve["hz"], curve["db"], strict=True)) for curve in document.values()]
        hz = sorted(set.intersection(*map(set, rows)))  # where all of them are valid
        assert_map(drawn, hz, angles, [[row[f] for f in hz] for row in rows], -33)
    elif what == "directivity":
        assert_drawn_as_numbers(drawn, document["curves"])
        assert set(lines(drawn)) <= set(document["curves"])
        assert ("stands for the other" in drawn.axes[0].get_xlabel()) == document["mirrored"]
    elif what in ("decay", "burst"):
        scale = 1000 if document["unit"] == "s" else 1
        assert_map(drawn, document["hz"], np.array(document["steps"]) * scale, document["level_db"], -30)
    elif what == "slices":
        for place, points in enumerate(xy(drawn)):
            assert_line(points, document["hz"], document["level_db"][5 * place], 0.02)
    elif what == "impedance":
        ohm, rating = [np.asarray(line.get_data()) for line in drawn.axes[0].get_lines()]
        assert set(rating[1]) == {0.8 * 4}  # 4.5 ohm supports 4 of the usual ratings
        [phase] = [np.asarray(line.get_data()) for line in drawn.axes[1].get_lines()]
        assert ohm.tolist() == [document["hz"], document["ohm"]]
        assert phase.tolist() == [document["hz"], document["phase_deg"]]
    elif what == "delay":
        assert_line(xy(drawn)[0], document["hz"], document["ms"], 1e-3)
    elif what == "phase":
        for points, name in zip(xy(drawn), ("measured_deg", "minimum_deg", "excess_deg"), strict=True):
            turned = (np.array(document[name]) + 180) % 360 - 180
            seen = np.isfinite(points[1])
            there = np.interp(points[0][seen], document["hz"], turned)
            assert points[1][seen] == pytest.approx(there, abs=0.01)
            assert points[0][seen][0] == pytest.approx(document["hz"][0])  # neither shows more than the other
    elif what == "step":
        frames = np.arange(len(document["amplitude"])) + document["from_onset_frames"]
        assert_line(xy(drawn)[0], 1000 * frames / document["rate_hz"], document["amplitude"], 1e-4)
    elif what == "response":
        assert_drawn_as_numbers(drawn, {name: document[name] for name in lines(drawn)})
    elif what == "difference":
        assert_drawn_as_numbers(drawn, dict.fromkeys(lines(drawn), document["difference"]))
    elif what in ("distortion", "spectrum", "crosstalk"):
        assert_drawn_as_numbers(drawn, document)
        assert set(lines(drawn)) == set(document) - {"thd"}
    elif what in ("drivers", "pair", "places", "seatings", "compression"):
        numbers = named_numbers(what, document)
        assert_drawn_as_numbers(drawn, numbers)
        assert set(lines(drawn)) == set(numbers)
    elif what == "electronics":
        shown = " ".join(text.get_text().replace("\n", " ") for text in drawn.axes[0].texts)
        for channel in SIDES:
            assert f"{document[channel]['tone']['level_dbfs']:.2f} dBFS" in shown
    else:
        assert what == "facts"
        shown = " ".join(text.get_text().replace("\n", " ") for text in drawn.axes[0].texts)
        for fact in document["facts"]:
            assert fact["outcome"] in shown


def with_one_side(subject: Subject) -> Subject:
    """The same of a setup whose left side was not measured."""
    found = {where: kept for where, kept in subject.measured.directions.items() if where != ("horizontal", -30)}
    rest = [one for one in subject.measured.everything if one.direction != ("horizontal", -30)]
    return replace(subject, measured=replace(subject.measured, directions=found, everything=rest))


BY_SIDE = ("horizontal", "polar", "directivity")  # what the side measured is part of


@pytest.mark.parametrize("what", BY_SIDE)
def test_one_side_that_may_stand_for_the_other_is_drawn_as_its_numbers_say(subject: Subject, what: str) -> None:
    data = named(what).of(with_one_side(subject))
    assert data.to_document() != named(what).of(subject).to_document()
    drawn_alike(what, data.to_document(), data.drawn())


@pytest.mark.parametrize("what", [name for name in FIGURES if name not in BY_SIDE])
def test_no_other_figure_hangs_on_whether_both_sides_were_measured(subject: Subject, what: str) -> None:
    """So that what it draws of one side is what it draws of both."""
    assert named(what).of(with_one_side(subject)).to_document() == named(what).of(subject).to_document()
