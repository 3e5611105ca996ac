from __future__ import annotations

from math import hypot, log10
from pathlib import Path

import pytest

from audio.curves.gate import speed_of_sound
from audio.errors import MeasureError
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.errors import CatalogueError
from sessions.measured import curve_import, curve_records, sweep_series
from sessions.measured.conditions import Conditions, Direction
from sessions.measured.curve_import import Reading

from .measured_files import write_level


def test_heights_become_angles() -> None:
    assert [sweep_series.angle_of_height(h, 1.0) for h in (-0.176, 0, 0.364)] == [-10, 0, 20]
    steps = sweep_series.by_heights("-0.176,0.176", 1.0)
    assert [step.direction for step in steps] == [("vertical", -10), ("vertical", 10)]
    assert steps[0].move == "Move the microphone to -0.18 m from the axis (-10°)"


def test_angles_go_both_ways_and_say_what_to_move() -> None:
    steps = sweep_series.by_angles("0:30:10", "horizontal")
    assert [step.direction.angle for step in steps] == [0, 10, 20, 30]
    assert steps[1].move == "Turn the loudspeaker to 10°"
    down = sweep_series.by_angles("10:-10:-10", "vertical")
    assert [step.direction for step in down] == [("vertical", 10), ("vertical", 0), ("vertical", -10)]
    assert down[0].move == "Bring the microphone to 10°"


@pytest.mark.parametrize("angles", ["0-90", "0:90", "0:90:0", "a:b:c"])
def test_angles_written_otherwise_are_refused(angles: str) -> None:
    with pytest.raises(CatalogueError, match="FROM:TO:STEP"):
        sweep_series.by_angles(angles, "horizontal")


def test_heights_written_otherwise_are_refused() -> None:
    with pytest.raises(CatalogueError, match="takes metres"):
        sweep_series.by_heights("low,high", 1.0)


def test_a_guided_series_goes_on_where_it_stopped(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    for angle in (0, 10):
        write_level(tmp_path / f"hor {angle}.txt", 0)
    curve_import.bring(casebook, sallow, tmp_path, Reading(), Conditions())
    there = curve_records.directions_of(casebook, sallow)
    left = sweep_series.still_to_measure(sweep_series.by_angles("0:30:10", "horizontal"), there)
    assert [step.direction.angle for step in left] == [20, 30]
    heights = sweep_series.still_to_measure(sweep_series.by_heights("-0.176,0.176", 1.0), there)
    assert [step.direction for step in heights] == [("vertical", -10), ("vertical", 10)]
    with pytest.raises(CatalogueError, match="measured already"):
        sweep_series.still_to_measure(sweep_series.by_angles("0:10:10", "horizontal"), there)


def test_each_height_has_its_own_gate_and_level_correction() -> None:
    """1 m away, the source at 1.2 m: by Pythagoras; the way grows by 10·log10(1 + h²) dB."""
    steps = sweep_series.by_heights("-0.5,0,0.5", 1.0, 1.2)
    ways = [hypot(1, 0.5), 1.0, hypot(1, 0.5)]
    images = [hypot(1, 1.2 + 0.7), hypot(1, 2.4), hypot(1, 1.2 + 1.7)]
    for step, way, image in zip(steps, ways, images, strict=True):
        assert step.standing.distance_db == pytest.approx(20 * log10(way))
        conditions, said = step.conditions(Conditions(), None)
        assert conditions.gate_ms == pytest.approx(1000 * (image - way) / speed_of_sound())
        assert said == []
    assert steps[0].move == "Move the microphone to -0.50 m from the axis (-27°), 0.70 m above the floor"
    conditions, said = steps[0].conditions(Conditions(), 5.0)
    assert conditions.gate_ms == 5.0
    assert said == ["the floor's reflection comes after 3.00 ms, within the gate of 5 ms"]
    # without the source's height the gate is not known, the way is
    plain = sweep_series.by_heights("0.5", 1.0)[0]
    assert plain.standing.distance_db == pytest.approx(0.969, abs=1e-3)
    assert plain.conditions(Conditions(gate_ms=4.0), None) == (Conditions(gate_ms=4.0), [])


def test_source_and_microphone_stand_at_their_own_heights_the_distance_apart() -> None:
    """1 m from source to microphone, of which 0.4 m are height: 0.917 m along the floor, by Pythagoras."""
    step = sweep_series.single(Direction("horizontal", 0), 1.0, 1.2, 0.8)
    conditions, _ = step.conditions(Conditions(), None)
    reflected = hypot((1 - 0.4**2) ** 0.5, 1.2 + 0.8)
    assert conditions.gate_ms == pytest.approx(1000 * (reflected - 1.0) / speed_of_sound())
    assert step.standing.distance_db == 0  # the stated distance is what the level belongs to
    with pytest.raises(MeasureError, match=r"heights of 1.2 and 0.2 m lie 1.00 m apart, no less than the 1 m from"):
        sweep_series.single(Direction("horizontal", 0), 1.0, 1.2, 0.2)
