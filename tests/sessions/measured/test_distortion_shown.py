"""Distortion as it is told, drawn and given as numbers: what stands above its own floor, and that floor."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sessions.casebook import catalogue, playback_chain
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook, create
from sessions.errors import CatalogueError
from sessions.measured import curve_records, swept_curves
from sessions.measured.conditions import Conditions
from sessions.measured.figures.figure import Subject
from sessions.measured.figures.figure_table import named
from sessions.measured.sweep_levels import louder_of
from tests.command_line import Done, earwitness

from .test_swept_curves import Room, settings

PLANTED_DB = 20 * np.log10(0.05 * 0.1 / 2)  # 0.05·x² of a sine of amplitude 0.1: its second harmonic, 0.25 %

Shown = Callable[..., Done]


@pytest.fixture(scope="module", params=[0.05, 0.0], ids=["x²", "clean"])
def taken(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Shown, float]:
    """A casebook with one sweep through a room with or without a second harmonic; and how much of it."""
    book = tmp_path_factory.mktemp("distortion") / "book"
    with create(book) as casebook:
        setup = catalogue.add_setup(casebook, "sallow", "", playback_chain.routed("room:1"))
        swept_curves.take_sweep(
            casebook, Room(square=request.param), setup, settings(averages=1), Conditions(gate_ms=20.0)
        )

    def shown(*more: str) -> Done:
        return earwitness(book, "curve", "show", "sallow", "--what", "distortion", *more)

    return shown, request.param


def numbers(done: Done) -> dict[str, Any]:
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)["numbers"]
    return found


@pytest.mark.parametrize("smooth", ["0", "12"])
def test_what_lies_below_the_floor_is_null_and_the_rest_as_planted(taken: tuple[Shown, float], smooth: str) -> None:
    shown, square = taken
    found = numbers(shown("--smooth", smooth, "--json"))
    assert {"harmonic 2", "harmonic 3", "harmonic 4", "harmonic 5"} <= set(found)
    second = found["harmonic 2"]
    assert len(second["hz"]) == len(second["db"]) == len(second["percent"]) == len(second["floor_db"])
    assert all(isinstance(db, float) for db in second["floor_db"])
    there = [db for hz, db in zip(second["hz"], second["db"], strict=True) if 500 < hz < 5000 and db is not None]
    if square:
        assert np.median(there) == pytest.approx(PLANTED_DB, abs=0.5)
        assert None in found["harmonic 5"]["db"]
    else:
        assert set(second["db"]) == set(second["percent"]) == {None}


def test_words_tell_thd_at_1_khz_and_the_largest_harmonic_or_that_there_is_none(taken: tuple[Shown, float]) -> None:
    shown, square = taken
    done, found = shown(), numbers(shown("--json"))
    assert done.returncode == 0, done.stderr
    if square:
        assert "THD at 1000 Hz (harmonics 2 to 5 above their own floors, against the fundamental): 0.2" in done.stdout
        assert "largest: harmonic 2, " in done.stdout
        assert found["thd"]["percent"] == pytest.approx(0.25, abs=0.02)
    else:
        assert "harmonics: none above their own floor (0.0" in done.stdout  # 12 dB above it
        assert found["thd"]["percent"] is None


def test_the_picture_of_a_clean_take_shows_the_floors_on_an_axis_fitted_to_them(
    casebook: Casebook, sallow: Setup
) -> None:
    setup = catalogue.add_setup(casebook, "sallow route", "", playback_chain.routed("room:1"))
    swept_curves.take_sweep(casebook, Room(square=0), setup, settings(averages=1), Conditions(gate_ms=20.0))
    data = named("distortion").of(Subject(curve_records.of_setup(casebook, setup), 12.0))
    figure, document = data.drawn(), data.to_document()
    axes = figure.axes[0]
    drawn = {line.get_label(): line.get_ydata() for line in axes.get_lines()}
    low, high = axes.get_ylim()
    for order in (2, 3, 4, 5):
        floor = np.array(document[f"harmonic {order}"]["floor_db"])
        line = drawn[f"harmonic {order}: its floor alone"]
        assert line == pytest.approx(floor, abs=0.01)
        assert low <= np.median(floor) <= high
    assert high < max(line.max() for line in drawn.values()) + 11
    assert len(figure.legends) == 1


def test_the_numbers_of_a_mixed_take_are_those_of_its_picture(tmp_path: Path, casebook: Casebook) -> None:
    setup = catalogue.add_setup(casebook, "sallow route", "", playback_chain.routed("room:1"))
    swept_curves.take_sweep(casebook, Room(), setup, settings(averages=1), Conditions(gate_ms=20.0))
    data = named("distortion").of(Subject(curve_records.of_setup(casebook, setup), 12.0))
    document = data.to_document()
    lines = {line.get_label(): line.get_data() for line in data.drawn().axes[0].get_lines()}
    hz, db = lines["harmonic 2"]
    numbers = np.array(document["harmonic 2"]["db"], dtype=float)
    assert (np.isnan(db) == np.isnan(numbers)).all()
    assert db[np.isfinite(db)] == pytest.approx(numbers[np.isfinite(numbers)], abs=0.01)
    assert hz == pytest.approx(document["harmonic 2"]["hz"], abs=0.01)


class Reflecting(Room):
    """The same room with one reflection of half the amplitude, 6.2 ms later."""

    def __init__(self) -> None:
        super().__init__(square=0.2, spoil=lambda heard: heard + 0.5 * np.concatenate([np.zeros(298), heard[:-298]]))


def test_distortion_is_told_and_drawn_only_where_its_gate_is_valid(casebook: Casebook) -> None:
    """0.2·x² of a sine of amplitude 0.1 is 1 %: with the reflection it would read 2 % and 0.5 % in turns."""
    setup = catalogue.add_setup(casebook, "sallow route", "", playback_chain.routed("room:1"))
    swept = swept_curves.take_sweep(casebook, Reflecting(), setup, settings(averages=1), Conditions(gate_ms=6.0))
    data = named("distortion").of(Subject(curve_records.of_setup(casebook, setup), 12.0))
    second = data.to_document()["harmonic 2"]
    assert second["hz"][0] == pytest.approx(1000 / 6, rel=0.05)
    seen = [one for hz, one in zip(second["hz"], second["percent"], strict=True) if 400 < hz < 5000]
    assert np.array(seen, float) == pytest.approx(1.0, abs=0.08)
    assert swept.harmonics_percent[2] < 1.5
    assert "within the gate of 6 ms: valid from 167 Hz" in data.sentences()
    assert "gate 6 ms, half-tukey" in data.note
    figure = data.drawn()
    hatched = [one for one in figure.axes[0].patches if one.get_hatch()]
    assert max(one.get_x() + one.get_width() for one in hatched if one.get_x() < 100) == pytest.approx(167, rel=0.05)


def test_distortion_kept_without_its_gate_is_told_as_not_gated(casebook: Casebook) -> None:
    setup = catalogue.add_setup(casebook, "sallow route", "", playback_chain.routed("room:1"))
    swept_curves.take_sweep(casebook, Room(), setup, settings(averages=1), Conditions(gate_ms=6.0))
    found = curve_records.of_setup(casebook, setup)
    formerly = {
        order: replace(
            one, conditions=replace(one.conditions, taken=replace(one.conditions.taken, harmonics_gated=False))
        )
        for order, one in found.distortion.items()
    }
    data = named("distortion").of(Subject(replace(found, distortion=formerly), 12.0))
    assert data.sentences()[0].startswith("not gated: reflections are in these numbers")
    assert "not gated" in data.note
    assert "gate 6" not in data.note
    assert all("not gated" in one.conditions.in_words() for one in formerly.values())


def test_one_sweep_alone_shows_its_own_distortion_and_a_curve_without_says_so(casebook: Casebook) -> None:
    setup = catalogue.add_setup(casebook, "sallow route", "", playback_chain.routed("room:1"))
    first = swept_curves.take_sweep(casebook, Room(), setup, settings(averages=1), Conditions(gate_ms=6.0))
    swept_curves.take_sweep(casebook, Room(square=0), setup, settings(averages=1), Conditions(gate_ms=6.0))
    single = curve_records.alone(casebook, first.record)
    shown = named("distortion").of(Subject(single, 12.0))
    assert shown.to_document()["thd"]["percent"] == pytest.approx(0.25, abs=0.02)  # as planted in the first
    without = replace(single, distortion={}, single=replace(first.record, kind="response"))
    with pytest.raises(
        CatalogueError, match=rf"{first.record.id} alone \(response\) has no distortion; leave --curve out"
    ):
        named("distortion").of(Subject(without))
    with pytest.raises(CatalogueError, match=r"alone \(impulse\) has no impedance"):
        named("impedance").of(Subject(single))


def test_the_loudest_of_several_levels_is_said_to_be_it(casebook: Casebook) -> None:
    setup = catalogue.add_setup(casebook, "sallow route", "", playback_chain.routed("room:1"))
    ids = [
        swept_curves.take_sweep(
            casebook, Room(), setup, settings(averages=1, level_dbfs=level), Conditions(gate_ms=6.0)
        ).record.id
        for level in (-30.0, -24.0)
    ]
    found = curve_records.of_setup(casebook, setup)
    assert louder_of(found).startswith(f"{ids[1]} (-24 dBFS) is the loudest of 2 levels swept alike")
    assert f"the quietest is {ids[0]} (-30 dBFS)" in louder_of(found)
    assert louder_of(curve_records.alone(casebook, curve_records.by_id(casebook, ids[1]))) == ""
