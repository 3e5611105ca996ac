"""Auditory filters, the threshold in quiet and loudness, against published values and against themselves."""

from __future__ import annotations

import numpy as np
import pytest

from audio.auditory import erb_hz, erb_number, filters, frequency_hz, specific_loudness, threshold_db

CENTRES_HZ = frequency_hz(erb_number(1000.0) + np.arange(-14.0, 22.0))


def loudness_sone(*tones: tuple[float, float]) -> float:
    """The loudness of some tones, each of a frequency and a level in dB SPL."""
    powers = np.array([10 ** (level_db / 10) for _, level_db in tones])
    let_through = powers @ filters(np.array([freq_hz for freq_hz, _ in tones]), CENTRES_HZ)
    return float(np.sum(specific_loudness(let_through / 10 ** (threshold_db(CENTRES_HZ) / 10))))


@pytest.mark.parametrize(("freq_hz", "bandwidth_hz"), [(100, 35.5), (1000, 132.6), (10_000, 1104.1)])
def test_bandwidths_are_those_of_the_published_formula(freq_hz: float, bandwidth_hz: float) -> None:
    """24.7 (4.37 F + 1) worked by hand, F in kHz (Glasberg and Moore 1990; the formula from memory)."""
    assert float(erb_hz(freq_hz)) == pytest.approx(bandwidth_hz, abs=0.06)


@pytest.mark.parametrize("freq_hz", [100.0, 1000.0, 4000.0, 15_000.0])
def test_the_scale_counts_bandwidths(freq_hz: float) -> None:
    """Its definition, summed up numerically: one for each bandwidth passed. The published factor 21.4 is rounded."""
    steps = np.linspace(0, freq_hz, 100_001)
    counted = float(np.trapezoid(1 / erb_hz(steps), steps))
    assert float(erb_number(freq_hz)) == pytest.approx(counted, rel=0.004)
    assert float(frequency_hz(erb_number(freq_hz))) == pytest.approx(freq_hz, rel=1e-9)


@pytest.mark.parametrize("centre_hz", [500.0, 1000.0, 4000.0])
def test_a_filter_lets_through_noise_of_one_equivalent_rectangular_bandwidth(centre_hz: float) -> None:
    freqs = np.linspace(0, 3 * centre_hz, 60_001)
    passed = filters(freqs, np.array([centre_hz]))[:, 0]
    assert float(np.trapezoid(passed, freqs)) == pytest.approx(float(erb_hz(centre_hz)), rel=0.002)


def test_the_threshold_is_within_a_few_decibels_of_the_standard_one() -> None:
    """ISO 389-7, free field, frontal, from memory: 22.1, 11.4, 4.4, 2.4, -1.3 and -5.4 dB from 125 Hz to 4 kHz."""
    standard = [22.1, 11.4, 4.4, 2.4, -1.3, -5.4]
    np.testing.assert_allclose(threshold_db(125.0 * 2.0 ** np.arange(6)), standard, rtol=0, atol=3)


def test_a_tone_of_1_khz_and_40_db_is_1_sone_and_10_db_more_is_about_twice_as_loud() -> None:
    """The sone's definition, and Stevens' rule, which measurements follow within some tenths."""
    assert loudness_sone((1000, 40)) == pytest.approx(1.0, abs=1e-3)
    for level_db in (40, 50, 60, 70):
        assert 1.7 < loudness_sone((1000, level_db + 10)) / loudness_sone((1000, level_db)) < 2.3


def test_what_cannot_be_heard_has_no_loudness_alone_and_adds_none_beside_a_strong_neighbour() -> None:
    assert loudness_sone((100, 10)) == 0
    assert loudness_sone((1000, -5)) == 0
    alone = loudness_sone((1050, 40))
    added = loudness_sone((1000, 80), (1050, 40)) - loudness_sone((1000, 80))
    assert alone > 0.8
    assert added < 0.01 * alone
