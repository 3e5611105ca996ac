"""The caption of every figure says how its curves were measured, once where they agree."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sessions.casebook.catalogue import Setup
from sessions.measured.conditions import ON_AXIS, Conditions, Direction
from sessions.measured.curve_records import CurveRecord, SetupCurves
from sessions.measured.figures import radiation
from sessions.measured.figures.captions import measured_in_words, measured_together
from sessions.measured.figures.figure import Subject
from sessions.measured.one_session import OneSession


def record(**stated: object) -> CurveRecord:
    data = np.array([[20.0, 80], [20_000, 80]])
    return CurveRecord("c", "s", "m", "response", ON_AXIS, "2026-03-04T10:00", Conditions(**stated), data)  # type: ignore[arg-type]


def test_what_all_curves_share_is_said_once_and_what_differs_by_curve() -> None:
    both = {
        "woofer": record(distance_m=1.0, drive_volts=2.83, spl=True, gate_ms=5.0, when="in March"),
        "tweeter": record(distance_m=0.5, drive_volts=2.83, spl=True, gate_ms=5.0),
    }
    assert measured_together(both) == (
        "distance differs: 1 m (woofer), 0.5 m (tweeter); 2.83 V; dB SPL; gate 5 ms, half-tukey; "
        "date differs: measured in March (woofer), kept 2026-03-04 (tweeter)"
    )
    assert measured_together({"woofer": both["woofer"]}) == measured_in_words(both["woofer"])


def test_what_nobody_said_of_one_of_them_differs_too() -> None:
    found = measured_together({"a": record(distance_m=2.0), "b": record()})
    assert found.startswith("distance differs: 2 m (a), not said (b); kept")


def test_many_values_are_told_by_their_ends() -> None:
    every = {f"{angle}°": record(gate_ms=6.0 - angle / 40) for angle in range(0, 50, 10)}
    assert measured_together(every).startswith(
        "gate differs: 5 values, gate 6 ms, half-tukey to gate 5 ms, half-tukey;"
    )


def test_smoothing_that_was_in_the_data_is_not_passed_over() -> None:
    assert "smoothed to 1/6 octave before it was brought in" in measured_in_words(record(smoothing=6.0))


def test_what_a_figure_s_own_names_tell_is_left_out() -> None:
    found = measured_together({"1 V": record(drive_volts=1.0), "2 V": record(drive_volts=2.0)}, but_for=("drive",))
    assert found == "kept 2026-03-04"


def test_an_impedance_says_what_it_was_driven_with_and_what_was_noted() -> None:
    found = replace(record(drive_volts=0.5, when="3 March", note="100 ohm in series"), kind="impedance")
    assert measured_in_words(found) == "0.5 V; 100 ohm in series; measured 3 March"
    assert "in series" not in measured_in_words(record(note="100 ohm in series"))


def test_no_direction_of_another_plane_or_side_is_drawn_or_told_of() -> None:
    toward = [ON_AXIS, Direction("horizontal", 90), Direction("horizontal", 180), Direction("vertical", 30),
              Direction("vertical", -30)]  # fmt: skip
    found = {one: replace(record(), direction=one) for one in toward}
    setup = Setup("s", "sallow", "gear", "", "2026-03-04T10:00")
    subject = Subject(SetupCurves(setup, found, None, {}))
    assert list(radiation.vertical(OneSession(found), subject).curves) == [-30, 0, 30]
    across = radiation.horizontal(OneSession(found), subject)
    assert (list(across.curves), "mirrored" in across.note) == ([0, 90, 180], False)
