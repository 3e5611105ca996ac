from __future__ import annotations

import numpy as np
import pytest

from audio.curves.curve import log_grid
from sessions.measured.audible import threshold_db
from sessions.measured.conditions import ON_AXIS, Conditions
from sessions.measured.curve_comparison import CurveComparison, compare_curves
from sessions.measured.curve_records import CurveRecord

HZ = log_grid(20, 20_000)


def test_thresholds_are_the_published_ones_and_nothing_is_judged_above_10_khz() -> None:
    assert threshold_db(np.array([40.0, 100.0, 1000.0, 12_000.0])) == pytest.approx([1.5, 1.0, 0.5, np.inf])


def compared(difference_db: np.ndarray) -> CurveComparison:
    flat = np.zeros(len(HZ))
    records = [
        CurveRecord("c", "s", "m", "response", ON_AXIS, "2026-01-01", Conditions(), np.stack([HZ, level], axis=1))
        for level in (flat + difference_db, flat)
    ]
    return compare_curves(("a", "b"), (records[0], records[1]))


def test_what_differs_most_is_judged_by_what_can_be_heard_and_not_at_20_hz() -> None:
    """Planted: 1.4 dB below 40 Hz, which is not heard, 1.2 dB around 5 kHz, which is, and 3 dB at the very top."""
    planted = np.where(HZ < 35, 1.4, 0.0) + 1.2 * np.exp(-((np.log2(HZ / 5000) / 0.5) ** 2)) + 3.0 * (HZ > 15_000)
    found = compared(planted)
    assert found.audible is not None
    hz, db, least = found.audible
    assert (hz, db, least) == (pytest.approx(5000, rel=0.05), pytest.approx(1.2, abs=0.1), 0.5)


def test_two_that_differ_by_less_than_can_be_heard_are_said_to() -> None:
    assert compared(np.where(HZ < 35, 1.0, 0.0)).audible is None
