"""The imaginary loudspeakers' radiation and impedance: what their simple models must do."""

from __future__ import annotations

import numpy as np
import pytest

from demo_tracks import loudspeakers, radiation

HZ = np.geomspace(50, 16_000, 60)


def test_on_axis_it_is_the_loudspeakers_own_response() -> None:
    for name in loudspeakers.LOUDSPEAKERS:
        wanted = loudspeakers.response_db(name, HZ, radiation.RATE_HZ)
        assert radiation.response_db(name, HZ, "horizontal", 0) == pytest.approx(wanted, abs=1e-9)


def test_a_piston_is_3_db_down_where_ka_sine_is_1_616() -> None:
    """2J1(x)/x is 0.7071 at x = 1.6163 (from memory of tables; by scipy's own J1 it is)."""
    assert radiation._piston(np.array([0.0, 1.6163])) == pytest.approx([1, 2**-0.5], abs=1e-4)
    assert radiation._piston(np.array([3.8317]))[0] == pytest.approx(0, abs=1e-4)  # the first zero of J1


def test_bass_goes_everywhere_and_treble_forwards() -> None:
    low, high = np.array([60.0]), np.array([12_000.0])
    assert radiation.off_axis_db(low, "horizontal", 180)[0] > -0.3
    assert radiation.off_axis_db(high, "horizontal", 180)[0] < -20
    falls = [radiation.off_axis_db(high, "horizontal", angle)[0] for angle in (0, 20, 40, 60)]
    assert falls == sorted(falls, reverse=True)


def test_off_axis_vertically_cone_and_dome_cancel_near_their_handover() -> None:
    """At 2.4 kHz and 30 degrees the paths differ by 7 cm, half a wavelength."""
    at = np.array([radiation.HANDOVER_HZ])
    assert radiation.off_axis_db(at, "vertical", 30)[0] < radiation.off_axis_db(at, "horizontal", 30)[0] - 10


def test_impedance_is_lowest_above_the_resonance_and_rises_with_the_coil() -> None:
    hz = np.geomspace(10, 20_000, 500)
    for name, least in (("sallow", 5.6), ("bracken", 3.4)):
        ohm, phase = radiation.impedance(name, hz)
        assert least <= ohm.min() < least * 1.1
        assert ohm[-1] > 3 * least
        assert np.abs(phase).max() < 90
