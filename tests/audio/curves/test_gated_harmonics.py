"""Harmonics within a gate: a reflection that comes later leaves them as they are, from where the gate allows on.

The truth is planted: n + 1 % of its second and 0.3 % of its third harmonic (Chebyshev polynomials), then a high-pass
of known response, then one reflection.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter, sosfilt, sosfreqz

from audio.curves import gate, noise_floor, sweep

RATE, GATE_S, LATE = 48_000, 0.006, 298  # frames: 6.2 ms
HIGH_PASS = butter(2, 80, "high", fs=RATE, output="sos")
PLANTED = {2: 0.01, 3: 0.003}


@pytest.fixture(scope="module")
def made() -> sweep.Sweep:
    return sweep.sweep(20, 20_000, 2, RATE, 0.25)


@pytest.fixture(scope="module")
def reflected(made: sweep.Sweep) -> sweep.Deconvolved:
    n = np.concatenate([np.zeros(300), made.samples(), np.zeros(RATE)]) / made.amplitude
    n = n + PLANTED[2] * (2 * n**2 - 1) + PLANTED[3] * (4 * n**3 - 3 * n)
    heard = sosfilt(HIGH_PASS, made.amplitude * n)
    heard[LATE:] += 0.5 * heard[:-LATE].copy()
    return sweep.deconvolved(made, heard)


def true_db(order: int, hz: np.ndarray) -> np.ndarray:
    at = [np.abs(sosfreqz(HIGH_PASS, worN=places, fs=RATE)[1]) for places in (order * hz, hz)]
    return np.asarray(20 * np.log10(PLANTED[order] / (1 - 3 * PLANTED[3]) * at[0] / at[1]))


@pytest.mark.parametrize("order", [2, 3])
def test_a_reflection_behind_the_gate_changes_no_harmonic(
    made: sweep.Sweep, reflected: sweep.Deconvolved, order: int
) -> None:
    curve, _ = sweep.distortion(made, reflected, GATE_S)[order]
    hz = np.array([200.0, 300, 500, 700, 1000, 1500, 2000, 3000, 5000])
    assert curve.at(hz) == pytest.approx(true_db(order, hz), abs=0.6)
    whole, _ = sweep.distortion(made, reflected)[order]
    assert np.abs(whole.at(hz) - true_db(order, hz)).max() > 3  # what the reflection does where nothing is gated


@pytest.mark.parametrize("gate_s", [0.006, 0.02])
def test_harmonics_are_valid_from_where_the_gate_allows(
    made: sweep.Sweep, reflected: sweep.Deconvolved, gate_s: float
) -> None:
    for curve, _ in sweep.distortion(made, reflected, gate_s).values():
        assert curve.band[0] == pytest.approx(1 / gate_s, rel=0.01)


def test_the_gate_of_a_harmonic_is_no_longer_than_the_time_before_the_next(
    made: sweep.Sweep, reflected: sweep.Deconvolved
) -> None:
    """L·ln(6/5) is 53 ms here, of which the quarter before the arrival is no gate: 40 ms are left of 100."""
    between_s = made.constant_s * np.log(6 / 5)
    assert sweep.harmonic_gate_s(made, reflected, 5, 0.1) == pytest.approx(0.75 * between_s, rel=0.02)
    assert sweep.harmonic_gate_s(made, reflected, 5, GATE_S) == GATE_S


def test_nothing_is_told_of_a_harmonic_that_the_gate_leaves_nowhere_valid(
    made: sweep.Sweep, reflected: sweep.Deconvolved
) -> None:
    """1/0.2 ms is 5 kHz; the fifth harmonic ends at 4 kHz of the fundamental, the second at 10 kHz."""
    found = sweep.distortion(made, reflected, 0.0002)
    assert 2 in found
    assert 5 not in found


def test_noise_in_a_gate_is_less_than_in_the_whole_window(made: sweep.Sweep, reflected: sweep.Deconvolved) -> None:
    """White noise: its power grows with the window's energy; 6 ms of half-Tukey hold some 12 dB less than 100 ms."""
    quiet = noise_floor.silence([np.random.default_rng(1).normal(0, 1e-4, RATE // 2)], RATE)
    shapes = [sweep.harmonic_window(made, reflected, 2, one) for one in (GATE_S, sweep.WINDOW_S)]
    energies = [float(np.sum(one**2)) for one in shapes]
    powers = [noise_floor.of_harmonics(quiet, made, reflected, 1, one)[2] for one in (GATE_S, sweep.WINDOW_S)]
    hz = sweep.lines(made)
    inside = (hz > 1000) & (hz < 8000)
    fell = [10 * np.log10(np.median(one[inside])) for one in powers]
    assert fell[1] - fell[0] == pytest.approx(10 * np.log10(energies[1] / energies[0]), abs=0.7)
    assert len(gate.shape(round(GATE_S * RATE), round(gate.LEAD_S * RATE), "half-tukey")) < len(shapes[0])
