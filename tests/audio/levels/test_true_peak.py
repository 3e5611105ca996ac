"""The true-peak meter: exact on waveforms whose peak is known, whatever the blocks, and honest at its edges."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audio.errors import MeasureError
from audio.levels.true_peak import INTERPOLATED_HZ, TruePeak, factor, true_peak_db

RATES = [8_000, 11_025, 22_050, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000]


def faded_sine(rate_hz: int, cycles_a_frame: float, amplitude: float, phase: float) -> np.ndarray:
    """One second with 10 ms fades, so that its start is no peak of its own; shape (frames, 1)."""
    n = np.arange(rate_hz)
    fade = np.minimum(1.0, np.minimum(n, rate_hz - n) / (0.01 * rate_hz))
    return (fade * amplitude * np.sin(2 * np.pi * cycles_a_frame * n + phase))[:, None]


@pytest.mark.parametrize("rate_hz", RATES)
def test_the_grid_is_at_least_384_khz(rate_hz: int) -> None:
    assert factor(rate_hz) * rate_hz >= INTERPOLATED_HZ >= 2 * 192_000
    assert factor(rate_hz) >= 4


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000, 192_000])
@pytest.mark.parametrize("cycles_a_frame", [0.02, 0.123, 0.25, 1 / 3, 0.4, 0.45])
def test_under_read_stays_within_the_standards_formula(rate_hz: int, cycles_a_frame: float) -> None:
    # ITU-R BS.1770-5 Annex 2 (read): at most 20 log10 cos(pi f_norm / n). 0.01 dB for the filter and the fades.
    allowed_db = -20 * np.log10(np.cos(np.pi * cycles_a_frame / factor(rate_hz)))
    for phase in np.linspace(0, np.pi, 7, endpoint=False):
        reading = true_peak_db(faded_sine(rate_hz, cycles_a_frame, 0.5, phase), rate_hz)
        assert reading is not None
        assert 20 * np.log10(0.5) - allowed_db - 0.01 <= reading <= 20 * np.log10(0.5) + 0.01


@pytest.mark.parametrize(
    ("times", "at_045_db", "at_05_db"),
    # ITU-R BS.1770-5 Annex 2 (read), table of the maximum under-read, rows n = 4, 8, 10, 16.
    [(4, 0.554, 0.688), (8, 0.136, 0.169), (10, 0.087, 0.108), (16, 0.034, 0.042)],
)
def test_the_formula_used_here_is_the_standards_table(times: int, at_045_db: float, at_05_db: float) -> None:
    for cycles_a_frame, expected in ((0.45, at_045_db), (0.5, at_05_db)):
        np.testing.assert_allclose(-20 * np.log10(np.cos(np.pi * cycles_a_frame / times)), expected, atol=6e-4)


def test_three_db_missed_by_the_samples_are_found() -> None:
    # BS.1770-5 Annex 2 (read): a tone at fs/4 sampled 45 degrees off its crests shows 3 dB less.
    samples = faded_sine(48_000, 0.25, 0.5, np.pi / 4)
    meter = TruePeak(48_000, 1)
    meter.feed(samples)
    np.testing.assert_allclose(meter.sample_peak_db(), 20 * np.log10(0.5) - 3.0103, atol=0.001)
    np.testing.assert_allclose(meter.peak_db(), 20 * np.log10(0.5), atol=0.01)


@pytest.mark.parametrize("rate_hz", [22_050, 48_000, 192_000])
def test_what_lies_between_two_samples_is_the_band_limited_waveform(rate_hz: int) -> None:
    # An independent way: a periodic band-limited signal is interpolated exactly by padding its spectrum.
    rng = np.random.default_rng(11)
    frames, top, times = 4096, 1720, factor(rate_hz)  # up to 0.42 of the rate
    spectrum = np.zeros(frames // 2 + 1, dtype=complex)
    spectrum[1:top] = rng.standard_normal(top - 1) + 1j * rng.standard_normal(top - 1)
    exact = np.fft.irfft(spectrum, frames * times) * times
    period = np.fft.irfft(spectrum, frames) / np.abs(exact).max()
    reading = true_peak_db(np.tile(period, 4)[:, None], rate_hz)
    # The same grid, so the same peak; only the ends, cut off into silence, could add something, and do not here.
    np.testing.assert_allclose(reading, 0.0, atol=0.005)


@given(data=st.data(), rate_hz=st.sampled_from([11_025, 48_000, 192_000]), channels=st.integers(1, 3))
@settings(deadline=None, max_examples=25)
def test_any_blocks_give_the_same_reading(data: st.DataObject, rate_hz: int, channels: int) -> None:
    frames = data.draw(st.integers(1, 40_000))
    samples = np.random.default_rng(frames).uniform(-1, 1, (frames, channels))
    meter = TruePeak(rate_hz, channels)
    start = 0
    while start < frames:
        step = data.draw(st.sampled_from([1, 7, 63, 64, 1000, 16_321, 16_322, 30_000]))
        if step == 1:
            step = min(300, frames - start)
            for frame in range(start, start + step):
                meter.feed(samples[frame : frame + 1])
        else:
            meter.feed(samples[start : start + step])
        start += step
    np.testing.assert_allclose(meter.peak_db(), true_peak_db(samples, rate_hz), rtol=0, atol=1e-9)


def test_a_reading_on_the_way_does_not_change_the_end() -> None:
    samples = np.random.default_rng(2).uniform(-1, 1, (10_000, 2))
    meter = TruePeak(48_000, 2)
    meter.feed(samples[:5000])
    np.testing.assert_allclose(meter.peak_db(), true_peak_db(samples[:5000], 48_000), rtol=0, atol=1e-9)
    meter.feed(samples[5000:])
    np.testing.assert_allclose(meter.peak_db(), true_peak_db(samples, 48_000), rtol=0, atol=1e-9)


def test_the_caller_may_use_its_array_again() -> None:
    samples = np.random.default_rng(2).uniform(-1, 1, (40_000, 1))
    meter = TruePeak(48_000, 1)
    block = np.empty((500, 1))
    for start in range(0, 40_000, 500):
        block[:] = samples[start : start + 500]
        meter.feed(block)
    np.testing.assert_allclose(meter.peak_db(), true_peak_db(samples, 48_000), rtol=0, atol=1e-9)


@pytest.mark.parametrize("rate_hz", [44_100, 192_000])
@pytest.mark.parametrize("place", [0, 1, 500, 998, 999])
def test_a_peak_at_an_edge_is_seen(rate_hz: int, place: int) -> None:
    samples = np.zeros((1000, 2))
    samples[place, 1] = -0.7
    np.testing.assert_allclose(true_peak_db(samples, rate_hz), 20 * np.log10(0.7), rtol=0, atol=1e-9)


def test_a_pair_of_samples_at_the_very_end_peaks_beyond_them() -> None:
    # Two equal samples in silence: the band-limited waveform midway is 2 sinc(1/2) = 4/pi times as high.
    samples = np.zeros((1000, 1))
    samples[-2:] = 0.5
    np.testing.assert_allclose(true_peak_db(samples, 48_000), 20 * np.log10(0.5 * 4 / np.pi), atol=0.02)


def test_it_is_never_below_the_sample_peak() -> None:
    for seed in range(20):
        samples = np.random.default_rng(seed).uniform(-1, 1, (500, 2))
        reading = true_peak_db(samples, 48_000)
        assert reading is not None
        assert reading >= 20 * np.log10(np.abs(samples).max())


@pytest.mark.parametrize("shape", [(0, 2), (5000, 2)])
def test_silence_has_no_peak(shape: tuple[int, int]) -> None:
    assert true_peak_db(np.zeros(shape), 48_000) is None
    assert TruePeak(48_000, 2).sample_peak_db() is None


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_samples_that_are_not_numbers_are_refused_with_their_place(value: float) -> None:
    meter = TruePeak(48_000, 2)
    meter.feed(np.ones((100, 2)))
    bad = np.ones((100, 2))
    bad[23, 1] = value
    with pytest.raises(MeasureError, match="sample at frame 123, channel 2 is not a number"):
        meter.feed(bad)


def test_a_block_of_the_wrong_shape_is_refused() -> None:
    with pytest.raises(ValueError, match=r"a block is \(frames, 2\); got shape \(5, 3\)"):
        TruePeak(48_000, 2).feed(np.zeros((5, 3)))
