from __future__ import annotations

import pytest

from audio.errors import MeasureError
from audio.room import voltmeter
from audio.room.tones import tone
from audio.room.voltmeter import Volts


@pytest.mark.parametrize(
    ("text", "volts", "half"),
    [("2.83", 2.83, 0.005), ("2,830 V", 2.83, 0.0005), ("283 mV", 0.283, 0.0005), (" 3 v ", 3.0, 0.5)],
)
def test_readings_are_read_with_their_last_digit(text: str, volts: float, half: float) -> None:
    assert voltmeter.parse(text) == Volts(volts, half)


@pytest.mark.parametrize("text", ["", "two", "2.8.3", "-2.83", "2.83 A", "1e3"])
def test_what_is_no_voltage_is_refused(text: str) -> None:
    with pytest.raises(MeasureError, match="is no voltage"):
        voltmeter.parse(text)


@pytest.mark.parametrize("text", ["0", "0.00", "230"])
def test_voltages_out_of_range_are_refused(text: str) -> None:
    with pytest.raises(MeasureError, match=r"out of range.*is the meter on AC"):
        voltmeter.parse(text)


def test_gains_follow_from_the_ratio_and_response_from_the_other_frequencies() -> None:
    readings = {
        "one": {100.0: Volts(2.0, 0.0005), 1000.0: Volts(2.0, 0.0005), 10_000.0: Volts(2.0, 0.0005)},
        "other": {100.0: Volts(1.0, 0.0005), 1000.0: Volts(1.0, 0.0005), 10_000.0: Volts(0.9, 0.0005)},
    }
    found = voltmeter.chains(readings)
    assert found.gains_db["one"] == pytest.approx(-6.0206, abs=1e-4)
    assert found.gains_db["other"] == 0
    assert found.response_db == pytest.approx(0.9151, abs=1e-4)  # 20 log10(1/0.9)


def test_a_missing_reading_is_named() -> None:
    one = {1000.0: Volts(1.0, 0.005)}
    with pytest.raises(MeasureError, match="other lacks the reading at 100 Hz"):
        voltmeter.chains({"one": {**one, 100.0: Volts(1, 0.005)}, "other": one})


def test_the_last_digit_sets_the_uncertainty() -> None:
    """Half a digit of 5 mV at 2.83 V: 0.0153 dB half-width, over sqrt 3 each, two readings, k = 2."""
    one = Volts(2.83, 0.005)
    assert voltmeter.uncertainty_db(one, one) == pytest.approx(2 * 2**0.5 * 8.6859 * 0.005 / 2.83 / 3**0.5, rel=1e-4)


def test_a_tone_is_never_loud_and_never_abrupt() -> None:
    made = tone(1000, -20, 1.0, 48_000)
    assert made.shape == (48_000, 1)
    assert abs(made).max() == pytest.approx(0.1, abs=1e-4)
    assert abs(made[0, 0]) < 1e-6
    for wrong in ((1000, -3, 1.0), (30_000, -20, 1.0), (1000, -20, 0.1)):
        with pytest.raises(ValueError, match="no tone"):
            tone(*wrong, 48_000)
