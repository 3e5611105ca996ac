"""Levels count as absolute only where what they depend on is stated."""

from __future__ import annotations

import numpy as np
import pytest

from sessions.measured.conditions import ON_AXIS, Conditions
from sessions.measured.curve_records import CurveRecord
from sessions.measured.shared_level import shared_level


def record(distance_m: float | None, volts: float | None) -> CurveRecord:
    stated = Conditions(spl=True, distance_m=distance_m, drive_volts=volts)
    data = np.array([[100.0, 80.0], [1000.0, 80.0]])
    return CurveRecord("a", "sallow", "", "response", ON_AXIS, "", stated, data, 0)


@pytest.mark.parametrize(
    ("distance_m", "volts", "absolute"), [(1.0, 2.83, True), (None, None, False), (1.0, None, False), (None, 2, False)]
)
def test_levels_are_absolute_only_where_drive_and_distance_are_stated(
    distance_m: float | None, volts: float | None, absolute: bool
) -> None:
    found = shared_level([record(distance_m, volts)] * 2, stated=False)
    assert found.absolute == absolute
    assert absolute or "not each states its drive and its distance" in found.words
