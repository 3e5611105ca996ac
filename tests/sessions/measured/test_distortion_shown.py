"""Distortion as it is told, drawn and given as numbers: what stands above its own floor, and that floor."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sessions.casebook import catalogue, playback_chain
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook, create
from sessions.measured import curve_records, swept_curves
from sessions.measured.conditions import Conditions
from sessions.measured.figures.figure import Subject
from sessions.measured.figures.figure_table import named
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
        assert "harmonics: none above their own floor (0.1" in done.stdout  # 12 dB above it
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
