"""Arithmetic of levels: effective bandwidth and reading time, sound pressure, averages, voltages.

Bendat and Piersol, Random Data (from memory) for the spread of noise readings; the figures for times were computed
independently from it in a worked table. Decibel arithmetic is by definition (20 log10, energy mean).
"""

from __future__ import annotations

import numpy as np
import pytest

from audio.room import level, noise, reading, trims, voltmeter


@pytest.mark.parametrize(("band_hz", "bandwidth", "seconds"), [((500, 2000), 1281, 5.7), ((20, 20_000), 955, 7.6)])
def test_bandwidths_and_times_of_pink_noise(band_hz: tuple[float, float], bandwidth: float, seconds: float) -> None:
    assert noise.pink_bandwidth_hz(band_hz) == pytest.approx(bandwidth, abs=0.5)
    assert noise.length_s(0.1, noise.pink_bandwidth_hz(band_hz)) == pytest.approx(seconds, abs=0.05)


@pytest.mark.parametrize(("weighting", "seconds"), [("z", 7.6), ("c", 6.0), ("a", 1.1)])
def test_times_of_weighted_pink_noise(weighting: str, seconds: float) -> None:
    """Table of times for +-0.1 dB: Z 7.6 s, C 6.0 s, A 1.1 s; the band 500 to 2000 Hz (5.7 s) is read beside each."""
    assert reading.turn_s(0.1, weighting, 48_000) == pytest.approx(max(seconds, 5.66), abs=0.06)  # type: ignore[arg-type]


def test_effective_bandwidths_of_weighted_pink_noise() -> None:
    freqs = np.arange(1.0, 24_000)
    inside = (freqs >= 20) & (freqs <= 20_000)
    for weighting, bandwidth in (("c", 1216), ("a", 6448)):
        density = np.where(inside, 1 / freqs, 0) * level.power_gain(freqs, 48_000, weighting)  # type: ignore[arg-type]
        assert noise.effective_bandwidth_hz(freqs, density) == pytest.approx(bandwidth, rel=0.005)


def test_spread_of_one_reading() -> None:
    assert noise.spread_db(1281, 1.0) == pytest.approx(0.121, abs=0.0005)
    assert noise.spread_db(1281, 10.0) == pytest.approx(0.0384, abs=0.0001)


def test_calibrator_levels() -> None:
    """94 dB is 1.00237 Pa (re 20 uPa)."""
    assert pytest.approx(1.00237, abs=1e-5) == 20e-6 * 10 ** (94 / 20)
    assert level.spl_offset_db(94.0, -31.5) == pytest.approx(125.5)


def test_energy_mean_over_positions() -> None:
    """80, 83 and 86 dB average to 83.665 dB; 60 and 70 dB to 67.404 dB."""
    for parts, mean in (((80, 83, 86), 83.665), ((60, 70), 67.404)):
        positions = [
            trims.Position(
                {"z": np.zeros(8)},
                {"one": [reading.ChannelReading(0, {"z": np.full(8, 10 ** (part / 10))})]},
            )
            for part in parts
        ]
        assert trims.levels(positions, "z")["one"].level_db == pytest.approx(mean, abs=0.0005)


def test_voltages() -> None:
    """0.1 dB is a ratio of 1.011579: 2.830 V becomes 2.8628 V. A meter off by 0.5 % reads 0.043 dB wrong."""
    assert voltmeter.decibels(1.011579) == pytest.approx(0.1, abs=1e-5)
    assert voltmeter.decibels(2.8628 / 2.830) == pytest.approx(0.1, abs=5e-4)
    assert voltmeter.decibels(1.005) == pytest.approx(0.043, abs=5e-4)
