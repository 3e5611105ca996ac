"""Noise planted over many seeds: a loop without distortion shows none above its own floor; what is planted is found."""

from __future__ import annotations

import numpy as np
import pytest

from audio.curves import noise_floor, sweep
from audio.curves.curve import Curve
from audio.curves.noise_floor import CLEAR_DB
from audio.curves.smooth import smoothed
from sessions.measured.taken import CLEAR_FRACTION, Taken

RATE, FRAMES, AT = 48_000, 3 * 48_000 // 2, 480
SILENT = round(0.48 * RATE)  # what a take keeps of the half second before a sweep
SIGMA = 1e-4
BY_CHANCE = (104,)


@pytest.fixture(scope="module")
def made() -> sweep.Sweep:
    return sweep.sweep(20, 20_000, 1, RATE, 0.1)


def coloured(rng: np.random.Generator, frames: int, pink: bool) -> np.ndarray:
    white = rng.normal(0, SIGMA, frames)
    if not pink:
        return white
    hz = np.fft.rfftfreq(frames, 1 / RATE)
    return np.fft.irfft(np.fft.rfft(white) / np.sqrt(np.maximum(hz, 5) / 1000), frames)


def above_floor_db(made: sweep.Sweep, seed: int, pink: bool, square: float = 0.0) -> dict[int, np.ndarray]:
    """How far each harmonic stands above its floor, as a take judges it, dB, where it is valid."""
    rng, played = np.random.default_rng(seed), made.samples()
    heard = coloured(rng, made.frames + FRAMES, pink)
    heard[AT : AT + len(played)] += played + square * played**2
    quiet = noise_floor.silence([coloured(rng, SILENT, pink)], RATE)
    response = sweep.deconvolved(made, heard)
    noise = noise_floor.of_harmonics(quiet, made, response, 1)
    found = {}
    for order, (curve, floor) in sweep.distortion(made, response, noise=noise).items():
        taken = Taken(made, 1, (1,), 0.0, {}).with_floor(Curve(curve.hz, floor))
        level, least = smoothed(curve, CLEAR_FRACTION).level_db, taken.floor_at(curve.hz)
        assert least is not None
        found[order] = (level - least)[curve.valid()]
    return found


@pytest.mark.parametrize("pink", [False, True])
def test_noise_alone_shows_no_distortion_above_its_own_floor(made: sweep.Sweep, pink: bool) -> None:
    """Seeds that would be told a harmonic of by the floor as it is heard, and others; a take asks 2 dB more."""
    for seed in (*BY_CHANCE, *range(300, 306)):
        for order, above in above_floor_db(made, seed, pink).items():
            assert above.max() < CLEAR_DB, (seed, order)


def test_a_second_harmonic_above_the_floor_is_still_found(made: sweep.Sweep) -> None:
    """x + k·x² makes k·a/2: 1 % at 18 dB and more above the noise is seen over the whole of 300 Hz to 5 kHz."""
    above = above_floor_db(made, 5, False, square=2 * 0.01 / made.amplitude)
    assert np.median(above[2]) > 15
