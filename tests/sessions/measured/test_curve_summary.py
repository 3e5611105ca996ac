from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured import curve_import, curve_records, curve_summary
from sessions.measured.conditions import Conditions, Direction
from sessions.measured.curve_import import Reading
from sessions.measured.curve_summary import CurveSummary

from .measured_files import HZ, write_level


def summary_of(casebook: Casebook, setup: Setup) -> CurveSummary:
    return curve_summary.summary(curve_records.of_setup(casebook, setup))


def test_a_setup_without_curves_has_no_directions_and_nothing_else(casebook: Casebook, sallow: Setup) -> None:
    assert summary_of(casebook, sallow).to_document() == {"setup": "sallow", "directions": []}


def test_ends_are_where_the_response_falls_below_its_mean(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    """A fall of 12 dB an octave below 100 Hz: 3 dB lower a quarter of an octave down, none at the top."""
    path = write_level(tmp_path / "axis.txt", 85 + 12 * np.minimum(np.log2(HZ / 100), 0))
    curve_import.bring(casebook, sallow, path, Reading(), Conditions())
    axis = summary_of(casebook, sallow).on_axis
    assert axis is not None
    assert axis.ends is not None
    assert axis.ends.mean_db == pytest.approx(85, abs=1e-6)
    for end, octaves in zip(axis.ends.ends, (3 / 12, 6 / 12, 10 / 12), strict=True):
        assert end.low_hz == pytest.approx(100 * 2**-octaves, rel=0.03)
        assert end.high_hz is None


def test_sensitivity_needs_spl_drive_and_distance(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    path = write_level(tmp_path / "axis.txt", 80)
    for stated, sensitivity_db in (
        (Conditions(distance_m=2.0, drive_volts=2.83, spl=True), 86.02),
        (Conditions(distance_m=2.0, drive_volts=2.83), None),
        (Conditions(drive_volts=2.83, spl=True), None),
    ):
        curve_import.bring(casebook, sallow, path, Reading(), stated)
        axis = summary_of(casebook, sallow).on_axis
        assert axis is not None
        assert axis.sensitivity_db == pytest.approx(sensitivity_db, abs=0.01)


def test_one_measured_side_stands_for_the_other_and_it_is_said(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    for plane, angle in [("hor", a) for a in (0, 10, 20, 30)] + [("vert", a) for a in (-10, 10)]:
        write_level(tmp_path / f"{plane} {angle}.txt", 80 - abs(angle) / 10)
    curve_import.bring(casebook, sallow, tmp_path, Reading(), Conditions())
    found = summary_of(casebook, sallow).directivity
    assert found is not None
    assert found.mirrored
    assert "listening window" in found.curves
    assert found.in_room is None
    path = write_level(tmp_path / "left.txt", 80)
    curve_import.bring(casebook, sallow, path, Reading(direction=Direction("horizontal", -10)), Conditions())
    found = summary_of(casebook, sallow).directivity
    assert found is not None
    assert not found.mirrored
    assert found.lacking["listening window"] == "needs horizontal -30°, horizontal -20°"


def test_the_document_leaves_out_what_was_not_measured(casebook: Casebook, sallow: Setup, tmp_path: Path) -> None:
    (tmp_path / "bass.txt").write_text("Hz dB\n20 80\n100 80\n200 80\n")
    curve_import.bring(casebook, sallow, tmp_path / "bass.txt", Reading(), Conditions())
    (tmp_path / "ohm.txt").write_text("20 8 10\n1000 4.5 -20\n20000 12 45\n")
    curve_import.bring(casebook, sallow, tmp_path / "ohm.txt", Reading("ohm"), Conditions())
    document = json.loads(json.dumps(summary_of(casebook, sallow).to_document(), allow_nan=False))
    assert set(document) == {"setup", "directions", "on_axis", "impedance"}
    assert set(document["on_axis"]) == {"direction", "valid_hz", "conditions", "sensitivity_283_v_1_m_db", "curve"}
    assert (document["impedance"]["minimum_ohm"], document["impedance"]["supports_ohm"]) == (4.5, None)
    assert document["impedance"]["unmeasured"] == "measured at 3 points only"
