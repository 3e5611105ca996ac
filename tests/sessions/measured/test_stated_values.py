"""A maker's words are read whole or refused; expected numbers by hand."""

from __future__ import annotations

import pytest

from sessions.errors import CatalogueError
from sessions.measured import stated_values
from sessions.measured.stated_values import MINIMUM, NOMINAL, RANGE, SENSITIVITY, StatedRange


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("10 Hz - 25,000 Hz ±3 dB", StatedRange(10, 25_000, 3, 3)),
        ("20 Hz - 20,000 Hz", StatedRange(20, 20_000, None, None)),
        ("20-20.000 Hz", StatedRange(20, 20_000, None, None)),
        ("31.5 Hz - 22.05 kHz", StatedRange(31.5, 22_050, None, None)),
        ("±3 dB, 45 Hz - 22 kHz", StatedRange(45, 22_000, 3, 3)),
        ("within ±3 dB: 45 Hz - 22 kHz", StatedRange(45, 22_000, 3, 3)),
        ("45 Hz - 22 kHz (+1/-2 dB)", StatedRange(45, 22_000, 1, 2)),
    ],
)
def test_a_range_is_read_whole(value: str, expected: StatedRange) -> None:
    assert stated_values.band(value) == expected


@pytest.mark.parametrize(
    ("value", "level_db", "for_watt", "metres"),
    [
        ("85 ± 2 dB 2.83 V/1 m", 85.0, False, 1),
        ("85 dB ±2 dB (2.83 V/1 m)", 85.0, False, 1),
        ("90 dB 100 W/1 m", 70.0, True, 1),
        ("88 dB (28.3 V / 1 m)", 68.0, False, 1),
        ("88 dB at 2.8 V in 2 m", 88.0, False, 2),
        ("88 dB SPL, 1 m, 1 W", 88.0, True, 1),
        ("90 dB/W/m", 90.0, True, 1),
    ],
)
def test_a_sensitivity_is_referred_to_its_usual_drive(
    value: str, level_db: float, for_watt: bool, metres: float
) -> None:
    found = stated_values.sensitivity(value)
    assert found is not None
    assert (found.level_db, found.for_watt, found.distance_m) == (pytest.approx(level_db), for_watt, metres)


@pytest.mark.parametrize(
    ("what", "value"),
    [
        (NOMINAL, "1,000 ohm"),
        (NOMINAL, "minimum 3.4 ohm, nominal 8 ohm"),
        (NOMINAL, "minimum 3.4 ohm"),
        (NOMINAL, "4-8 ohm"),
        (MINIMUM, "8 ohm nominal"),
        (SENSITIVITY, "88 dB 2.83 V in 4 m room at 1 m"),
        (RANGE, "33 Hz - 25 kHz; 28 Hz - 30 kHz (-10 dB)"),
        (RANGE, "within 3 dB 45 Hz - 22 kHz"),
        (RANGE, "2 - 20 kHz"),
        (RANGE, "45 Hz - 22 kHz ±3 dB, -6 dB at 30 Hz"),
    ],
)
def test_what_is_not_understood_whole_is_refused(what: str, value: str) -> None:
    with pytest.raises(CatalogueError, match="write it like"):
        stated_values.check(what, value)


@pytest.mark.parametrize("value", ["8 ohm", "8 Ω nominal", "nominal 8 ohm", "8 ohms (nominal)", "8-ohm"])
def test_one_impedance_is_read_with_its_own_word(value: str) -> None:
    assert stated_values.ohms(value, NOMINAL) == 8
