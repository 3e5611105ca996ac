"""Where one recording lies against another: planted delays, polarities, repeats and drifts come back."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import make_interp_spline

from audio.alignment import clock_drift
from audio.alignment.correlation import arrival, cross_correlation, padded_size
from audio.alignment.delay import APART_S, align

RATE = 48_000


def noise(seconds: float, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal(round(seconds * RATE))


def moved(samples: np.ndarray, frames: float) -> np.ndarray:
    """Later by a broken number of frames, by the shift theorem."""
    padded = np.pad(samples, (RATE // 4, RATE // 4))
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(padded.size) * frames)
    return np.fft.irfft(np.fft.rfft(padded) * turn, padded.size)[RATE // 4 : -RATE // 4]


@pytest.mark.parametrize("frames", [0.0, 0.31, -7.25, 1234.5, -4000.0])
def test_a_planted_delay_comes_back_to_a_hundredth_of_a_sample(frames: float) -> None:
    """At 30 dB of uncorrelated noise, with either polarity."""
    sound = noise(1.0)
    late = moved(sound, frames) + 0.03 * noise(1.0, 2)
    found, turned = align(sound, late, RATE), align(sound, -late, RATE)
    assert found is not None
    assert turned is not None
    assert found.delay_s * RATE == pytest.approx(frames, abs=0.01)
    assert turned.delay_s == pytest.approx(found.delay_s, abs=1e-9)
    assert found.correlation == pytest.approx(-turned.correlation)
    assert found.correlation > 0.7
    assert found.certainty > 0.9


def test_an_echo_is_the_next_best_delay_and_takes_from_the_certainty() -> None:
    sound = noise(1.0)
    found = align(sound, moved(sound, 480) + 0.6 * moved(sound, 4800), RATE)
    assert found is not None
    assert found.delay_s == pytest.approx(0.01, abs=1e-5)
    assert found.next_best_s == pytest.approx(0.1, abs=1e-3)
    assert 0.2 < found.certainty < 0.8


def test_a_beat_that_comes_again_may_be_either() -> None:
    """The same beat twice, a quarter of a second apart, and one of them to find."""
    beat = noise(0.2) * np.linspace(1, 0, round(0.2 * RATE))
    twice = np.zeros(RATE)
    for start in (RATE // 4, RATE // 2):
        twice[start : start + beat.size] += beat
    found = align(beat, twice, RATE)
    assert found is not None
    assert found.next_best_s is not None
    assert sorted([found.delay_s, found.next_best_s]) == pytest.approx([0.25, 0.5], abs=1e-3)
    assert found.certainty < 0.05


def test_within_the_width_of_one_peak_there_is_no_other() -> None:
    found = align(noise(1.0), noise(1.0), RATE, 0.0, APART_S / 2)
    assert found is not None
    assert (found.next_best_s, found.certainty) == (None, 1.0)


def test_silence_lies_nowhere() -> None:
    assert align(noise(1.0), np.zeros(RATE), RATE) is None


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_known_signal_is_found_where_it_arrives(sign: float) -> None:
    sent = noise(0.5)
    heard = np.concatenate([np.zeros(3210), sign * 0.01 * sent, np.zeros(9000)]) + 1e-3 * noise(0.5 + 12_210 / RATE, 3)
    assert arrival(sent, heard) == 3210


def test_a_cross_correlation_is_the_sum_of_products_at_each_lag() -> None:
    rng = np.random.default_rng(4)
    one, two = rng.standard_normal((30, 2)), rng.standard_normal((40, 2))
    lags = cross_correlation(one, two, padded_size(30, 40))
    for lag in (-20, -1, 0, 1, 9):
        inside = [(n, n + lag) for n in range(30) if 0 <= n + lag < 40]
        by_hand = np.mean([sum(one[n, k] * two[m, k] for n, m in inside) for k in (0, 1)])
        assert lags[lag] == pytest.approx(by_hand)


@pytest.mark.parametrize("ppm", [400.0, -150.0])
def test_a_drift_and_the_delay_at_the_start_are_found_together(ppm: float) -> None:
    spectrum = np.fft.rfft(noise(6.0))
    spectrum[spectrum.size // 5 :] = 0  # so slow that a quintic goes through it between samples
    sound = np.fft.irfft(spectrum)
    times_s = np.arange(sound.size) / RATE
    later = make_interp_spline(times_s, sound, k=5)(np.clip(times_s / (1 + 1e-6 * ppm) - 0.02, 0, times_s[-1]))
    found = clock_drift.drift(sound, later, RATE, 0.02, 1000.0)
    assert found is not None
    assert found.ppm == pytest.approx(ppm, abs=17)  # its own step is 17 ppm over six seconds
    assert found.start_s == pytest.approx(0.02, abs=1e-4)


def test_a_passage_too_short_has_no_drift() -> None:
    assert clock_drift.drift(noise(1.0), noise(1.0), RATE, 0.0, 1000.0) is None
