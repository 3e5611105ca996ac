"""Tones for how high somebody hears: their level, their ramps, and that nothing else is in them, by the samples."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from audio.high_tones import HIGHEST_DBFS, LENGTH_S, MOST_OF_RATE, presentation, presentations

RATE_HZ = 48_000


def spectrum_db(sound: NDArray[np.float32]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Frequencies, and each line's level re the largest; a second of sound as it is: a window would hide a click."""
    lines = np.abs(np.fft.rfft(sound[:, 0].astype(np.float64)))
    hz = np.asarray(np.fft.rfftfreq(len(sound), 1 / RATE_HZ), dtype=np.float64)
    return hz, np.asarray(20 * np.log10(lines / lines.max() + 1e-12))


@pytest.mark.parametrize("freq_hz", [1000, 4000, 13_200, 20_000])
def test_nothing_but_the_tone_is_above_90_db_below_it(freq_hz: int) -> None:
    hz, db = spectrum_db(presentation(freq_hz, -30.0, RATE_HZ))
    assert abs(hz[int(np.argmax(db))] - freq_hz) <= 1
    assert db[np.abs(hz - freq_hz) > 150].max() < -90


def test_a_tone_that_was_switched_on_would_be_found_by_that() -> None:
    """The same tone without its ramps: as short, 100 ms cut off either end."""
    sound = presentation(13_217, -30.0, RATE_HZ)
    hard = np.zeros_like(sound)
    hard[round(0.35 * RATE_HZ) : round(0.65 * RATE_HZ)] = sound[round(0.35 * RATE_HZ) : round(0.65 * RATE_HZ)]
    hz, db = spectrum_db(hard)
    assert db[np.abs(hz - 13_217) > 150].max() > -60


def test_the_level_is_the_peaks_and_rises_and_falls_over_a_tenth_of_a_second() -> None:
    sound = presentation(997, -26.0, RATE_HZ)[:, 0]
    power = np.convolve(np.square(sound), np.full(480, 1 / 480), "same")  # over 10 ms
    level_db = 10 * np.log10(2 * power + 1e-12)
    at = {second: float(level_db[round(second * RATE_HZ)]) for second in (0.2, 0.3, 0.5, 0.7, 0.8)}
    assert at[0.5] == pytest.approx(-26.0, abs=0.05)
    # halfway up a raised cosine is half the amplitude: 6 dB less
    assert [at[0.3], at[0.7]] == pytest.approx([-32.0, -32.0], abs=0.3)
    assert max(at[0.2], at[0.8]) < -90
    assert float(np.abs(sound).max()) <= 10 ** (-26 / 20) + 2**-14


def test_the_empty_one_is_the_tones_own_noise_and_no_digital_silence() -> None:
    """TPDF of ±1 step of 16 bits: its power is a sixth of a step's square (the variance of two uniform draws)."""
    empty, high, low = presentations([16_000, 4000], -40.0, RATE_HZ, channels=2, only=1)
    assert empty.shape == (round(LENGTH_S * RATE_HZ), 2)
    assert np.std(empty) == pytest.approx(2.0**-15 / np.sqrt(6), rel=0.01)
    assert np.count_nonzero(empty) == empty.size
    for one in (high, low):
        np.testing.assert_array_equal(one[:, 0], empty[:, 0])  # the other channel holds no tone
        outside = np.r_[0 : round(0.25 * RATE_HZ), round(0.75 * RATE_HZ) : len(one)]
        np.testing.assert_array_equal(one[outside], empty[outside])
        assert float(np.abs(one[:, 1]).max()) > 0.0086  # of 16 kHz at 48 kHz a sample is 0.866 of the peak


def test_rounded_to_16_bits_a_faint_tone_makes_no_others_and_without_dither_it_would() -> None:
    """Through a device of 16 bits, what is left beside the tone is noise, with no line 15 dB above it."""

    def lines_beside(sound: NDArray[np.float64]) -> float:
        steps = np.rint(sound * 2**15) / 2**15
        power = np.square(np.abs(np.fft.rfft(steps)))
        hz = np.fft.rfftfreq(len(steps), 1 / RATE_HZ)
        beside = power[(np.abs(hz - 12_000) > 400) & (hz > 20)]
        return float(10 * np.log10(beside.max() / np.mean(beside)))

    sound = presentation(12_000, -74.0, RATE_HZ)[:, 0].astype(np.float64)
    bare = sound - presentation(None, -74.0, RATE_HZ)[:, 0]
    assert lines_beside(sound) < 15 < lines_beside(bare)


@pytest.mark.parametrize(
    ("freq_hz", "level_dbfs", "says"),
    [(1000, HIGHEST_DBFS + 0.1, "no tone above -20 dBFS"), (RATE_HZ * MOST_OF_RATE + 1, -40, "above 0.45 of the rate")],
)
def test_too_loud_or_too_high_a_tone_is_not_made(freq_hz: float, level_dbfs: float, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        presentation(freq_hz, level_dbfs, RATE_HZ)
    assert presentation(min(freq_hz, RATE_HZ * MOST_OF_RATE), min(level_dbfs, HIGHEST_DBFS), RATE_HZ).any()
