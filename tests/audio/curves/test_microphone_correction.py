"""A microphone's own response is taken off levels, phases and impulse responses alike."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter, sosfilt, sosfreqz

from audio.curves import gate
from audio.curves.microphone_correction import Correction
from audio.room.microphone import Calibration

RATE = 48_000
HZ = np.geomspace(0.5, 23_950, 800)
MICROPHONE = butter(1, [12, 16_000], "bandpass", fs=RATE, output="sos")  # a first-order low and high end
_, HEARD = sosfreqz(MICROPHONE, worN=HZ, fs=RATE)
FILE = Calibration(tuple(HZ), tuple(20 * np.log10(np.abs(HEARD))), "mic.txt, its response")


def test_an_impulse_response_comes_back_in_level_and_phase_as_without_the_microphone() -> None:
    """Against scipy's own filter: a flat source heard through the microphone, 50 Hz to 15 kHz."""
    dirac = np.zeros(RATE)
    dirac[960] = 1
    heard = sosfilt(MICROPHONE, dirac)
    mended = Correction(FILE).impulse(heard, RATE)
    curve, _ = gate.gated(mended, RATE, 0.5, "rectangular")
    inside = (curve.hz > 50) & (curve.hz < 15_000)
    assert np.abs(curve.level_db[inside]).max() < 0.05
    assert curve.phase_deg is not None
    assert np.abs(curve.phase_deg[inside]).max() < 2
    assert np.abs(mended[:950]).max() < 1e-4  # nothing comes before the sound


def test_levels_and_phases_by_frequency_are_mended_alike() -> None:
    """By the formulas of a first-order high-pass at 12 Hz and low-pass at 16 kHz, 50 Hz to 10 kHz."""
    hz = np.geomspace(0.5, 300_000, 1000)
    heard = 1 / ((1 - 12j / hz) * (1 + 1j * hz / 16_000))
    own = Correction(Calibration(tuple(hz), tuple(20 * np.log10(np.abs(heard)))))
    assert own.levels(hz, 20 * np.log10(np.abs(heard))) == pytest.approx(0, abs=1e-9)
    inside = (hz > 50) & (hz < 10_000)
    assert own.phases(hz, np.degrees(np.angle(heard)))[inside] == pytest.approx(0, abs=2)


def test_where_the_file_ends_the_curve_ends_and_it_is_said() -> None:
    short = Correction(Calibration((30.0, 10_000.0), (1.0, 2.0), "mic.txt, its response", "1000Hz -38.4"))
    low, high = short.valid_hz((20, 20_000))
    assert (low, high) == (pytest.approx(30, rel=0.02), pytest.approx(10_000, rel=0.02))
    assert short.words == "mic.txt, its response, 30 to 10000 Hz"
    ends, states = short.said((20, 20_000))
    assert "says nothing beyond 30 to 10000 Hz, so the curve is valid only there" in ends
    assert "states a sensitivity (1000Hz -38.4); it moves no curve" in states
    assert short.said((100, 5000)) == [states]


def test_without_a_file_nothing_is_done_and_that_is_kept() -> None:
    none = Correction()
    samples = np.arange(10.0)
    assert none.impulse(samples, RATE) is samples
    assert (none.words, none.said((20, 20_000)), none.valid_hz((20, 20_000))) == ("none", [], (20, 20_000))
