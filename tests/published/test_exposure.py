"""Noise dose by NIOSH (98-126; times read on its page, formula from memory) and weekly allowance by WHO-ITU H.870.

The allowances of H.870 (80 dBA and 75 dBA over 40 hours) were read where others quote them, not in its own text; hours,
doses and Pa²h are computed.
"""

from __future__ import annotations

import pytest

from audio.room import dose


@pytest.mark.parametrize(("level_dba", "hours"), [(85, 8), (88, 4), (91, 2), (94, 1), (97, 0.5), (100, 0.25)])
def test_niosh_times(level_dba: float, hours: float) -> None:
    assert dose.permitted_hours(level_dba) == pytest.approx(hours)
    assert dose.niosh_percent([(level_dba, hours)]) == pytest.approx(100)


def test_niosh_worked_example() -> None:
    """2 h at 91, 4 h at 85, 2 h at 80 dBA: 100 + 50 + 7.874 %, which is 86.98 dBA over 8 h."""
    percent = dose.niosh_percent([(91, 2), (85, 4), (80, 2)])
    assert percent == pytest.approx(157.87, abs=0.005)
    assert dose.time_weighted_average_dba(percent) == pytest.approx(86.98, abs=0.005)


@pytest.mark.parametrize(
    ("level_dba", "hours"),
    [(80, 40), (83, 20.05), (85, 12.65), (89, 5.04), (92, 2.52), (95, 1.265), (98, 0.634), (100, 0.40), (107, 0.080)],
)
def test_weekly_hours_of_adults(level_dba: float, hours: float) -> None:
    assert dose.weekly_hours(level_dba) == pytest.approx(hours, rel=0.005)


@pytest.mark.parametrize(("level_dba", "hours"), [(75, 40), (78, 20.05), (80, 12.65), (85, 4.0), (95, 0.40)])
def test_weekly_hours_of_sensitive_listeners(level_dba: float, hours: float) -> None:
    assert dose.weekly_hours(level_dba, "sensitive") == pytest.approx(hours, rel=0.005)


def test_reference_exposures() -> None:
    """1.600 Pa2h for 80 dBA over 40 h, 0.506 Pa2h for 75 dBA."""
    assert dose.pascal_square_hours(80, 40) == pytest.approx(1.600, abs=0.0005)
    assert dose.pascal_square_hours(75, 40) == pytest.approx(0.506, abs=0.0005)


def test_warnings_come_at_half_and_at_the_whole_and_say_what_they_are_not() -> None:
    assert dose.dose([(85, 3.9)], [(75, 1)]).warning == ""
    half = dose.dose([(85, 4)], [(80, 4)]).warning
    assert "turn down or rest" in half
    assert "not medical advice" in half
    assert "stop for today" in dose.dose([(85, 8)], [(80, 8)]).warning
    assert "rest your ears" in dose.dose([(80, 1)], [(80, 40)]).warning
