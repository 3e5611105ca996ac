"""The minimum phase is that of the loudspeaker and not of the sweep that measured it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import butter, sosfilt, sosfreqz

from audio.curves import gate, phase, sweep

RATE = 48_000
LOUDSPEAKER = np.vstack([butter(4, 60, "high", fs=RATE, output="sos"), butter(1, 15_000, fs=RATE, output="sos")])


def test_the_sweep_s_own_ends_are_no_filter_of_the_loudspeaker() -> None:
    """A closed box at 60 Hz, fourth order, and a treble of first order at 15 kHz, against scipy's own phase.

    At 10 kHz −26° is true; the band limits of a sweep to 20 kHz alone would make −138° of it.
    """
    made = sweep.sweep(20, 20_000, 3, RATE, 0.1)
    heard = sosfilt(LOUDSPEAKER, np.concatenate([np.zeros(500), made.samples(), np.zeros(RATE)]))
    curve, _ = gate.gated(sweep.deconvolved(made, heard).impulse, RATE, 0.3)
    curve = replace(curve, valid_hz=(20.0, 20_000.0))
    hz = np.array([100.0, 300, 1000, 3000, 10_000])
    _, response = sosfreqz(LOUDSPEAKER, worN=hz, fs=RATE)
    wanted = np.degrees(np.unwrap(np.angle(response)))
    found = np.interp(hz, curve.hz, phase.minimum_phase_of(curve))
    assert found == pytest.approx(wanted, abs=6)
    excess = np.interp(hz, curve.hz, phase.excess_phase(curve))
    late = np.polyfit(hz[2:], excess[2:], 1)  # the onset's own place is a delay of some microseconds, and no more
    assert excess - np.polyval(late, hz) == pytest.approx(0, abs=6)


def test_less_than_an_octave_has_no_minimum_phase() -> None:
    curve = phase.Curve(np.linspace(100, 10_000, 100), np.zeros(100), None, (1000, 1500))
    with pytest.raises(phase.MeasureError, match="less than an octave"):
        phase.minimum_phase_of(curve)
