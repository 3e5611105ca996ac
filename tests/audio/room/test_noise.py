"""The reading noise: its spectrum, its sameness, and the statistics of levels read from random noise."""

from __future__ import annotations

import numpy as np
import pytest

from audio.room import noise

RATE = 48_000


@pytest.mark.parametrize("band_hz", [noise.BAND_HZ, noise.FULL_HZ])
def test_noise_is_pink_inside_its_band_and_nothing_outside(band_hz: tuple[float, float]) -> None:
    made = noise.pink(band_hz, 2 * RATE, RATE)
    power = np.abs(np.fft.rfft(made.samples)) ** 2
    freqs = np.fft.rfftfreq(2 * RATE, 1 / RATE)
    inside = (freqs >= band_hz[0]) & (freqs <= band_hz[1])
    np.testing.assert_allclose(np.ptp(10 * np.log10(power[inside] * freqs[inside])), 0, atol=1e-6)
    assert power[~inside].max() < 1e-18 * power.max()
    assert np.sqrt(np.mean(made.samples**2)) == pytest.approx(1)
    assert made.crest_db == pytest.approx(20 * np.log10(np.abs(made.samples).max()))
    assert 9 < made.crest_db < 15  # gaussian-like noise; common practice, no source


def test_the_same_name_gives_the_same_noise_and_another_another() -> None:
    one, again = noise.pink(noise.BAND_HZ, 4800, RATE), noise.pink(noise.BAND_HZ, 4800, RATE)
    np.testing.assert_array_equal(one.samples, again.samples)
    other = noise.pink(noise.BAND_HZ, 4800, RATE, "another").samples
    assert abs(float(np.corrcoef(one.samples, other)[0, 1])) < 0.2


def test_a_stretch_too_short_for_the_band_is_refused() -> None:
    with pytest.raises(ValueError, match="hold no noise"):
        noise.pink((500.0, 510.0), 48, RATE)


def test_effective_bandwidth_of_a_flat_band_is_its_width_and_of_pink_noise_the_formula() -> None:
    freqs = np.arange(0, 24_000, 0.5)
    flat = ((freqs >= 500) & (freqs < 1500)).astype(float)
    assert noise.effective_bandwidth_hz(freqs, flat) == pytest.approx(1000)
    pink = np.where((freqs >= 500) & (freqs <= 2000), 1 / np.maximum(freqs, 1), 0)
    assert noise.effective_bandwidth_hz(freqs, pink) == pytest.approx(noise.pink_bandwidth_hz((500, 2000)), rel=2e-3)


def test_levels_of_random_noise_spread_as_predicted() -> None:
    """Readings of independent random pink noise, 1 s each, against 4.343/sqrt(B T) (Bendat, Piersol: from memory)."""
    rng = np.random.default_rng(4)
    freqs = np.fft.rfftfreq(RATE, 1 / RATE)
    shape = np.where((freqs >= 500) & (freqs <= 2000), 1 / np.sqrt(np.maximum(freqs, 1)), 0)
    levels = []
    for _ in range(400):  # a stretch cut from longer noise, so that its own power varies
        lines = shape * (rng.standard_normal(freqs.size) + 1j * rng.standard_normal(freqs.size))
        levels.append(10 * np.log10(np.mean(np.fft.irfft(lines) ** 2)))
    predicted = noise.spread_db(noise.pink_bandwidth_hz((500, 2000)), 1.0)
    assert np.std(levels) == pytest.approx(predicted, rel=0.12)  # 400 readings know it to 3.5 %
