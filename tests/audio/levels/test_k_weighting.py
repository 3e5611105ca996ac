"""The weighting filter by matrices is the plain recursion; its coefficients are those of others."""

from __future__ import annotations

import numpy as np
import pyloudnorm
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from audio.levels.k_weighting import (
    CALIBRATION_GAIN_DB,
    CALIBRATION_HZ,
    MOST_FRAMES,
    KWeighting,
    k_weighting,
    weighted,
)

RATES = [8_000, 11_025, 22_050, 44_100, 48_000, 88_200, 96_000, 192_000]


@pytest.mark.parametrize("rate_hz", RATES)
def test_the_coefficients_are_pyloudnorms_brought_to_one_gain_at_997_hz(rate_hz: int) -> None:
    filters = pyloudnorm.Meter(rate_hz, filter_class="DeMan")._filters
    shelf, high_pass = filters["high_shelf_DeMan"], filters["high_pass_DeMan"]
    theirs = np.array([np.concatenate([stage.b, stage.a]) for stage in (shelf, high_pass)])
    _, response = signal.sosfreqz(theirs, [CALIBRATION_HZ], fs=rate_hz)
    theirs[0, :3] *= 10 ** (CALIBRATION_GAIN_DB / 20) / np.abs(response[0])
    np.testing.assert_allclose(k_weighting(rate_hz), theirs, rtol=1e-11, atol=0)


@given(data=st.data(), rate_hz=st.sampled_from(RATES), channels=st.integers(1, 3))
@settings(deadline=None, max_examples=30)
def test_stretches_of_any_length_come_out_as_of_the_plain_recursion(
    data: st.DataObject, rate_hz: int, channels: int
) -> None:
    frames = data.draw(st.integers(1, 50_000))
    samples = np.random.default_rng(frames).uniform(-1, 1, (frames, channels))
    meter, parts, start = KWeighting(rate_hz, channels), [np.empty((channels, 0))], 0
    while start < frames:
        step = min(data.draw(st.sampled_from([1, 31, 32, 33, 1024, 5000, MOST_FRAMES])), frames - start)
        parts.append(meter.feed(samples[start : start + step]).copy())
        start += step
    expected = signal.sosfilt(k_weighting(rate_hz), samples, axis=0)
    # 1e-9 is 180 dB down; both round, near a double pole at 1 - 2π·38 Hz / rate
    np.testing.assert_allclose(np.concatenate(parts, axis=1).T, expected, rtol=0, atol=1e-9)
    np.testing.assert_allclose(weighted(samples, rate_hz), expected, rtol=0, atol=1e-9)


def test_a_long_silence_after_sound_ends_in_nothing_and_stays_quick() -> None:
    meter = KWeighting(48_000, 1)
    meter.feed(np.ones((1000, 1)))
    for _ in range(100):
        last = meter.feed(np.zeros((MOST_FRAMES, 1)))
    assert not last.any()


def test_more_than_fits_at_once_is_refused() -> None:
    with pytest.raises(ValueError, match="at most 32767 frames at a time; got 32768"):
        KWeighting(48_000, 1).feed(np.zeros((32_768, 1)))
