"""Resampling: length, place in time, flatness, images, and what is refused.

The bounds are ours, far inside soxr's own claims for its best quality; the expected waveforms are computed.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audio.clip import Clip
from audio.errors import PassageError
from audio.resample import resample

PAIRS = [(44_100, 48_000), (48_000, 44_100), (96_000, 48_000), (48_000, 192_000), (192_000, 44_100), (8_000, 48_000)]


def burst(rate_hz: int, frequency_hz: float, length_s: float = 1.0) -> np.ndarray:
    """A tone that swells and fades (Hann), sampled at that rate; shape (frames, 1)."""
    t = np.arange(round(length_s * rate_hz)) / rate_hz
    return (np.sin(2 * np.pi * frequency_hz * t) * np.sin(np.pi * t / length_s) ** 2)[:, None]


@pytest.mark.parametrize(("from_hz", "to_hz"), PAIRS)
@pytest.mark.parametrize(("fraction", "atol"), [(0.01, 1e-5), (0.3, 1e-5), (0.85, 5e-4)])  # -100 dB; 0.004 dB
def test_sound_below_both_half_rates_stays_where_it_is(from_hz: int, to_hz: int, fraction: float, atol: float) -> None:
    frequency_hz = fraction * min(from_hz, to_hz) / 2
    result = resample(Clip(burst(from_hz, frequency_hz), from_hz), to_hz)
    assert result.rate_hz == to_hz
    np.testing.assert_allclose(result.samples, burst(to_hz, frequency_hz), rtol=0, atol=atol)


@pytest.mark.parametrize(("from_hz", "to_hz"), [(192_000, 44_100), (96_000, 48_000), (48_000, 8_000)])
def test_sound_above_the_new_half_rate_is_gone(from_hz: int, to_hz: int) -> None:
    result = resample(Clip(burst(from_hz, 0.55 * to_hz), from_hz), to_hz)
    assert np.abs(result.samples).max() < 1e-5


@given(
    frames=st.integers(0, 3000),
    from_hz=st.sampled_from([8_000, 11_025, 22_050, 44_100, 48_000, 96_000]),
    to_hz=st.sampled_from([8_000, 11_025, 22_050, 44_100, 48_000, 96_000]),
)
@settings(deadline=None, max_examples=60)
def test_the_length_is_frames_times_the_ratio_to_the_nearest(frames: int, from_hz: int, to_hz: int) -> None:
    result = resample(Clip(np.ones((frames, 2)), from_hz), to_hz)
    assert result.samples.shape[1] == 2
    assert result.samples.dtype == np.float64
    assert abs(result.frames - frames * to_hz / from_hz) <= 0.5


def test_channels_do_not_mix() -> None:
    samples = np.hstack([burst(48_000, 1000.0), np.zeros((48_000, 1)), -burst(48_000, 3000.0)])
    result = resample(Clip(samples, 48_000), 44_100).samples
    for channel in range(3):
        alone = resample(Clip(samples[:, [channel]], 48_000), 44_100).samples
        np.testing.assert_allclose(result[:, [channel]], alone, rtol=0, atol=1e-12)
    assert not result[:, 1].any()


def test_the_same_rate_gives_the_very_same_clip() -> None:
    clip = Clip(burst(48_000, 1000.0), 48_000)
    assert resample(clip, 48_000) is clip


def test_going_up_and_back_changes_less_than_a_24_bit_step() -> None:
    clip = Clip(0.5 * burst(44_100, 5000.0), 44_100)
    back = resample(resample(clip, 192_000), 44_100)
    np.testing.assert_allclose(back.samples, clip.samples, rtol=0, atol=2.0**-23)


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_samples_that_are_not_numbers_are_refused(value: float) -> None:
    samples = burst(48_000, 1000.0)
    samples[100] = value
    with pytest.raises(PassageError, match="samples that are not numbers"):
        resample(Clip(samples, 48_000), 44_100)


def test_a_rate_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="a sample rate is positive; got 0"):
        resample(Clip(np.zeros((10, 1)), 48_000), 0)
