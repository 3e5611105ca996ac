"""Passing over what cannot be the highest point changes nothing: the reading is that of all points computed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.lib.stride_tricks import sliding_window_view

from audio.levels import interpolation
from audio.levels.interpolation import BEFORE, PIECE, TAPS, highest_between, interpolators
from audio.levels.true_peak import TruePeak, factor


def all_points(samples: np.ndarray, times: int) -> np.ndarray:
    """The plain computation: every point of a channel, gap by gap."""
    return sliding_window_view(samples, TAPS) @ interpolators(times).T


def sound(kind: str, frames: int, channels: int, seed: int) -> np.ndarray:
    """Shape (channels, frames): dense, sparse, smooth, clipped, alternating, swelling or nearly silent sound."""
    rng = np.random.default_rng(seed)
    noise = rng.uniform(-1, 1, (channels, frames))
    if kind == "sparse":
        return np.where(rng.random(noise.shape) < 5 / frames, noise, 0.0)
    if kind == "smooth":
        return np.cumsum(noise, axis=1) / 50
    if kind == "clipped":
        return np.clip(np.cumsum(noise, axis=1), -0.9, 0.9)
    if kind == "alternating":  # the worst there is: signs as those of the filter
        return np.sign(np.cos(np.pi * np.arange(frames) + rng.uniform(0, 6, (channels, 1)))) * (1 - 0.5 * noise**2)
    if kind == "swelling":
        return noise * np.linspace(0, 1, frames) ** 3
    if kind == "tiny":
        return noise * 1e-200
    if kind == "huge":
        return noise * 1e200
    return noise


KINDS = ["noise", "sparse", "smooth", "clipped", "alternating", "swelling", "tiny", "huge"]


@given(
    kind=st.sampled_from(KINDS),
    pieces=st.integers(1, 12),
    channels=st.integers(1, 2),
    times=st.sampled_from([4, 8, 9, 48]),
    share=st.sampled_from([0.0, 0.5, 0.9, 0.999, 1.0, 1.1, 2.0]),
    seed=st.integers(0, 10**6),
)
@settings(deadline=None, max_examples=150)
def test_the_highest_point_is_never_passed_over(
    kind: str, pieces: int, channels: int, times: int, share: float, seed: int
) -> None:
    stretch = sound(kind, pieces * PIECE + TAPS - 1, channels, seed)
    plain = max(float(np.abs(all_points(channel, times)).max()) for channel in stretch)
    highest = share * float(np.abs(stretch).max())
    found = highest_between(stretch, times, highest)
    if plain > highest * (1 + 1e-12):
        np.testing.assert_allclose(found, plain, rtol=1e-12)
    else:
        assert found <= highest * (1 + 1e-9)


@given(
    kind=st.sampled_from(KINDS), frames=st.integers(1, 6000), rate_hz=st.sampled_from([11_025, 44_100, 48_000, 96_000])
)
@settings(deadline=None, max_examples=60)
def test_the_meter_reads_the_highest_of_all_samples_and_points(kind: str, frames: int, rate_hz: int) -> None:
    samples = sound(kind, frames, 2, frames)
    meter = TruePeak(rate_hz, 2)
    meter.feed(samples.T)
    around = np.pad(samples, ((0, 0), (TAPS - 1, TAPS - 1)))
    plain = max(np.abs(samples).max(), *(np.abs(all_points(channel, factor(rate_hz))).max() for channel in around))
    if plain == 0:
        assert meter.peak_db() is None
    else:
        np.testing.assert_allclose(meter.peak_db(), 20 * np.log10(plain), rtol=0, atol=1e-9)


@pytest.mark.parametrize("times", [4, 8, 9, 48])
def test_a_point_is_a_straight_line_and_second_differences(times: int) -> None:
    # what the closer bound stands on, by the filter itself: taps = line through the two middle ones + rest
    filters = interpolation._filters(times)
    taps = interpolators(times)
    share = taps @ (np.arange(TAPS) - BEFORE)
    samples = np.random.default_rng(times).uniform(-1, 1, TAPS)
    line = (1 - share) * samples[BEFORE] + share * samples[BEFORE + 1]
    rest = taps @ samples - line
    assert np.all((share >= 0) & (share <= 1))
    assert np.all(np.abs(rest) <= filters.curved * np.abs(np.diff(samples, n=2)).max())
    # and it is reached: second differences that have the signs of the rest's filter give the bound itself
    weights = np.linalg.lstsq(np.diff(np.eye(TAPS), n=2, axis=0).T, (taps - line_taps(share)).T, rcond=None)[0].T
    np.testing.assert_allclose(np.abs(weights).sum(axis=1).max(), filters.curved, rtol=1e-9)
    np.testing.assert_allclose(np.abs(taps).sum(axis=1).max(), filters.size, rtol=1e-12)


def line_taps(share: np.ndarray) -> np.ndarray:
    taps = np.zeros((share.size, TAPS))
    taps[:, BEFORE], taps[:, BEFORE + 1] = 1 - share, share
    return taps


def test_most_of_a_piece_of_music_is_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    # low notes under a little hiss, as music is: the work left is a few cells in a hundred
    rng = np.random.default_rng(5)
    time = np.arange(200 * PIECE + TAPS - 1) / 48_000
    swell = 0.5 + 0.5 * np.sin(2 * np.pi * 0.7 * time)
    stretch = (swell * np.sin(2 * np.pi * 90 * time) + 0.01 * rng.standard_normal(time.size))[None, :]
    cells = []
    promising = interpolation._promising
    monkeypatch.setattr(
        interpolation,
        "_promising",
        lambda *given: (cells.append(len(windows)) or windows for windows in promising(*given)),
    )
    highest_between(stretch, 8, float(np.abs(stretch).max()))
    assert 0 < sum(cells) < 0.05 * 200 * PIECE / interpolation.CELL
