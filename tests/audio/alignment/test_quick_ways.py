"""The quick ways of the alignment against the plain ones."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import make_interp_spline

from audio.alignment import delay
from audio.alignment.correlation import cross_correlation, padded_size
from audio.alignment.stretches import RATE_HZ, Stretch


@given(st.integers(1, 3_000_000), st.integers(1, 3_000_000))
@settings(deadline=None)
def test_a_padded_length_is_even_long_enough_and_of_small_factors(frames: int, others: int) -> None:
    size = padded_size(frames, others)
    assert size % 2 == 0
    assert frames + others - 1 <= size <= max(2, 1.2 * (frames + others - 1) + 4)
    for factor in (2, 3, 5):
        while size % factor == 0:
            size //= factor
    assert size == 1


@pytest.mark.parametrize(("frames", "others"), [(1, 1), (40, 7), (100, 113), (333, 500)])
def test_correlations_do_not_wrap_round_at_any_padded_length(frames: int, others: int) -> None:
    rng = np.random.default_rng(frames)
    one, two = rng.standard_normal(frames), rng.standard_normal(others)
    found = cross_correlation(one, two, padded_size(frames, others))
    plain = np.correlate(two, one, "full")  # from the lag −(frames − 1) on
    lags = np.arange(-(frames - 1), others)
    np.testing.assert_allclose(found[lags], plain, atol=1e-10)


@pytest.mark.parametrize("by_s", [0.0, 1.234567, -0.017])
@pytest.mark.parametrize("lines", [1, 511, 512, 513, 40_000])
def test_turns_are_the_exponentials(by_s: float, lines: int) -> None:
    freqs = 300.0 + np.arange(lines) * 0.0915
    np.testing.assert_allclose(delay._turns(freqs, by_s), np.exp(2j * np.pi * freqs * by_s), atol=1e-10)


def test_the_cubic_between_samples_is_the_spline_through_them() -> None:
    """Solved there as a whole with other conditions at the ends, of which nothing is left a few samples on."""
    samples = np.random.default_rng(2).standard_normal((4000, 2))
    stretch = Stretch(samples, 3.0)
    places = 40 + np.sort(np.random.default_rng(3).uniform(0, 3900, 5000))
    spline = make_interp_spline(np.arange(4000), samples[:, 1], k=3)
    np.testing.assert_allclose(stretch.at(3.0 + places / RATE_HZ, 1), spline(places), atol=1e-11)


def test_the_cubic_passes_through_every_sample_and_is_0_beyond() -> None:
    samples = np.random.default_rng(4).standard_normal((50, 1))
    times = (np.arange(52) - 1) / RATE_HZ
    found = Stretch(samples, 0.0).at(times, 0)
    np.testing.assert_allclose(found[1:-1], samples[:, 0], atol=1e-11)
    assert found[0] == found[-1] == 0
