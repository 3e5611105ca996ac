"""Recordings that are in step, whatever they were played through, and those that are not, told by band powers."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from audio.clip import Clip
from audio.in_step import out_of_step, silent
from audio.loudness_pattern import band_edges
from audio.passages import HOP_S, WINDOW_S
from audio.spectrogram import band_powers
from tests import families
from tests.families import RATE_HZ, Signal

LENGTH_S = 30
Rng = np.random.Generator


def apart(one: Signal, other: Signal) -> NDArray[np.bool_]:
    edges = band_edges(RATE_HZ)
    first, second = (band_powers(Clip(each, RATE_HZ), edges, HOP_S, WINDOW_S) for each in (one, other))
    return out_of_step(first, second, HOP_S)


@pytest.fixture(scope="module")
def music() -> Signal:
    return families.played(families.score(np.random.default_rng(31), LENGTH_S + 8), LENGTH_S + 8)


THROUGH: list[Callable[[Rng, Signal], Signal]] = [
    families.equaliser,
    lambda rng, samples: families.room(rng, samples, 0.8, -5.0),
    lambda _, samples: families.compressed(samples, 10.0),
    families.remastered,
    lambda _, samples: np.concatenate([np.zeros((720, 2)), samples[:-720]]),  # 30 ms late
    lambda _, samples: 0.01 * samples,
]


@pytest.mark.parametrize("through", THROUGH)
def test_whatever_it_is_played_through_music_is_in_step_with_itself(
    music: Signal, through: Callable[[Rng, Signal], Signal]
) -> None:
    rng = np.random.default_rng(5)
    whole = music[: LENGTH_S * RATE_HZ]
    assert not apart(whole, families.noisy(rng, through(rng, whole))).any()


@pytest.mark.parametrize("swapped", [False, True])
def test_a_silence_is_told_of_the_one_that_has_it_and_a_room_that_rings_on_into_a_pause_is_none(
    music: Signal, swapped: bool
) -> None:
    rng = np.random.default_rng(7)
    paused = music[: LENGTH_S * RATE_HZ].copy()
    paused[10 * RATE_HZ : 13 * RATE_HZ] = 0
    wet = families.room(rng, paused, 0.8, 0.0)
    dropped = paused.copy()
    dropped[20 * RATE_HZ : 22 * RATE_HZ] = 0
    edges = band_edges(RATE_HZ)
    pair = [band_powers(Clip(each, RATE_HZ), edges, HOP_S, WINDOW_S) for each in (dropped, wet)]
    which = silent(*(pair[::-1] if swapped else pair), HOP_S)
    told = np.flatnonzero(which) * HOP_S + WINDOW_S / 2
    assert set(which.tolist()) == {0, 2 if swapped else 1}
    assert (told[0], told[-1]) == pytest.approx((20, 22), abs=0.3)


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("hums", [True, False])
def test_a_pause_in_which_the_other_hums_or_hisses_is_no_dropout_and_one_beside_it_is(
    music: Signal, hums: bool, swapped: bool
) -> None:
    """Noise of -78 dBFS in the one; in the other, 14 dB below its music, a hum or a hiss that never stops."""
    rng = np.random.default_rng(8)
    paused = music[: LENGTH_S * RATE_HZ].copy()
    paused *= 0.05 / paused.std()
    for begin_s in (10, 27):
        paused[begin_s * RATE_HZ : (begin_s + 2) * RATE_HZ] = 0
    seconds = np.arange(len(paused)) / RATE_HZ
    made = np.sin(2 * np.pi * 150 * seconds) if hums else rng.standard_normal(seconds.size)
    hummed = families.equaliser(rng, paused) + 0.01 * (made / made.std())[:, None]
    dropped = paused + 10 ** (-78 / 20) * rng.standard_normal(paused.shape)
    dropped[20 * RATE_HZ : 22 * RATE_HZ] *= 0.001
    edges = band_edges(RATE_HZ)
    one, other = (
        band_powers(Clip(each, RATE_HZ), edges, HOP_S, WINDOW_S)
        for each in ((hummed, dropped) if swapped else (dropped, hummed))
    )
    which = silent(one, other, HOP_S)
    own = 2 if swapped else 1
    told = np.flatnonzero(which == own) * HOP_S + WINDOW_S / 2
    assert (told[0], told[-1]) == pytest.approx((20, 22), abs=0.3)
    pauses = np.flatnonzero(which == -own) * HOP_S + WINDOW_S / 2
    assert set(np.round(pauses[[0, -1]])) == {10, 29}
    assert set(which.tolist()) == {0, own, -own}


@pytest.mark.parametrize("skipped_s", [0.2, 0.7, 1.9, 6.0])
def test_after_a_jump_it_is_out_of_step(music: Signal, skipped_s: float) -> None:
    rng = np.random.default_rng(6)
    at, whole = 15 * RATE_HZ, music[: LENGTH_S * RATE_HZ]
    jumped = np.concatenate([music[:at], music[at + round(skipped_s * RATE_HZ) :]])[: len(whole)]
    found = apart(families.equaliser(rng, whole), jumped)
    assert not found[: round(12.5 / HOP_S)].any()
    assert found[round(18 / HOP_S) : round(27.5 / HOP_S)].mean() > 0.9


def test_a_hole_in_one_recording_is_found_and_a_pause_in_both_is_none(music: Signal) -> None:
    whole = music[: LENGTH_S * RATE_HZ].copy()
    whole[5 * RATE_HZ : 8 * RATE_HZ] = 0
    holed = whole.copy()
    holed[20 * RATE_HZ : 21 * RATE_HZ] = 0
    found = np.flatnonzero(apart(whole, holed)) * HOP_S
    assert found.min() > 17.5
    assert found.max() < 23.5
    assert {20.4, 20.5} <= set(np.round(found, 1))


def test_steady_sound_cannot_be_out_of_step() -> None:
    rng = np.random.default_rng(8)
    tone = 0.3 * np.sin(2 * np.pi * 440 * np.arange(LENGTH_S * RATE_HZ) / RATE_HZ)[:, None]
    assert not apart(tone, families.equaliser(rng, np.roll(tone, 5000, axis=0))).any()
