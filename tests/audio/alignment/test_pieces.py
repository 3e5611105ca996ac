"""Recordings of which one is cut, holds something more or changes its clock: pieces, each at its own lag."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline

from audio.alignment import track
from audio.alignment.track import TrackAlignment
from audio.clip import Clip
from audio.files import writing
from tests import families

RATE_HZ = families.RATE_HZ
LENGTH_S = 32.0
CUT_S = 14.2
Samples = NDArray[np.float64]
Change = Callable[[np.random.Generator, Samples], Samples]


@pytest.fixture(scope="module")
def piece() -> Samples:
    return families.played(families.score(np.random.default_rng(21), LENGTH_S), LENGTH_S)


def aligned(folder: Path, one: Samples, two: Samples) -> TrackAlignment:
    rng = np.random.default_rng(4)
    writing.write(folder / "one.wav", Clip(families.noisy(rng, one), RATE_HZ), subtype="FLOAT")
    writing.write(folder / "two.wav", Clip(families.noisy(rng, two), RATE_HZ), subtype="FLOAT")
    found = track.align_files(folder / "one.wav", folder / "two.wav")
    assert found is not None
    return found


def without(samples: Samples, from_s: float, to_s: float) -> Samples:
    return np.concatenate([samples[: round(from_s * RATE_HZ)], samples[round(to_s * RATE_HZ) :]])


def with_more(samples: Samples, at_s: float, more: Samples) -> Samples:
    at = round(at_s * RATE_HZ)
    return np.concatenate([samples[:at], more, samples[at:]])


@pytest.mark.parametrize("lacks_s", [0.5, 3.0])
def test_each_side_of_a_cut_lies_at_its_own_lag(tmp_path: Path, piece: Samples, lacks_s: float) -> None:
    changed = families.room(np.random.default_rng(5), without(piece, CUT_S, CUT_S + lacks_s), 0.3, 3.0)
    found = aligned(tmp_path, piece, changed)
    assert found.found
    before, after = found.pieces
    assert (before.lag_s, after.lag_s) == pytest.approx((0.0, -lacks_s), abs=1e-4)
    assert before.end_s == pytest.approx(CUT_S, abs=0.15)
    assert after.start_s == pytest.approx(CUT_S + lacks_s, abs=0.15)
    assert before.start_s == pytest.approx(0.0, abs=1e-3)
    assert after.end_s == pytest.approx(LENGTH_S, abs=0.01)


def test_what_was_added_is_no_part_of_either_piece(tmp_path: Path, piece: Samples) -> None:
    more = families.played(families.score(np.random.default_rng(33), 1.3), 1.3)
    found = aligned(tmp_path, piece, with_more(families.equaliser(np.random.default_rng(6), piece), CUT_S, more))
    before, after = found.pieces
    assert (before.lag_s, after.lag_s) == pytest.approx((0.0, 1.3), abs=1e-4)
    assert (before.end_s, after.start_s) == pytest.approx((CUT_S, CUT_S), abs=0.15)


def test_a_clock_that_changes_is_two_clocks(tmp_path: Path, piece: Samples) -> None:
    """300 ppm slow at first, 200 ppm fast from the middle on, read off the samples by a spline of fifth order."""
    times = np.arange(len(piece)) / RATE_HZ
    late = np.where(times < CUT_S, -300e-6 * times, -300e-6 * CUT_S + 200e-6 * (times - CUT_S))
    read_at = np.interp(times, times + late, times) * RATE_HZ
    changed = make_interp_spline(np.arange(len(piece)), piece, k=5)(np.minimum(read_at, len(piece) - 1))
    before, after = aligned(tmp_path, piece, changed).pieces
    assert (before.ppm, after.ppm) == pytest.approx((-300.0, 200.0), abs=3.0)
    assert before.end_s == pytest.approx(CUT_S, abs=1.0)
    for moment_s in (5.0, 12.0):
        assert before.lag_at(moment_s) == pytest.approx(-300e-6 * moment_s, abs=1e-4)
    assert after.lag_at(25.0) == pytest.approx(-300e-6 * CUT_S + 200e-6 * (25.0 - CUT_S), abs=1e-4)


@pytest.mark.parametrize("change", [families.equaliser, lambda rng, x: families.room(rng, x, 0.8, -5.0)])
def test_a_whole_recording_is_in_no_pieces(tmp_path: Path, piece: Samples, change: Change) -> None:
    found = aligned(tmp_path, piece, change(np.random.default_rng(7), piece))
    assert found.pieces == ()
    assert found.best.lag_s == pytest.approx(0.0, abs=1e-4)


def test_a_long_lead_in_leaves_enough_to_be_found_by(tmp_path: Path, piece: Samples) -> None:
    """Of 32 s the second holds the first 12, after 20 s of silence: less than the 0.4 that a lag must share."""
    lead = np.zeros((20 * RATE_HZ, 2))
    found = aligned(tmp_path, piece, np.concatenate([lead, piece[: 12 * RATE_HZ]]))
    assert found.found
    assert found.best.lag_s == pytest.approx(20.0, abs=1e-4)


def test_another_take_holds_no_piece(tmp_path: Path) -> None:
    rng = np.random.default_rng(41)
    events = families.score(rng, LENGTH_S)
    take = families.another_take(rng, events, 0.008)
    found = aligned(tmp_path, families.played(events, LENGTH_S), families.played(take, LENGTH_S))
    assert not found.found
    assert found.pieces == ()


def sines(*starts_s: float) -> Samples:
    """Single sines of a second each, no two of one pitch, at these moments."""
    times = np.arange(round(20.0 * RATE_HZ)) / RATE_HZ
    found = np.zeros(times.size)
    for start_s, pitch_hz in zip(starts_s, (440.0, 660.0, 550.0, 880.0, 495.0), strict=True):
        after_s = times - start_s
        found += 0.3 * np.sin(2 * np.pi * pitch_hz * after_s) * np.clip(np.minimum(after_s, 1 - after_s) / 0.05, 0, 1)
    return np.stack([found, found], axis=1)


@pytest.mark.parametrize("late_s", [0.0, 0.040])
def test_a_steady_tone_stays_in_place_with_nothing_to_show_its_lag(tmp_path: Path, late_s: float) -> None:
    """Any whole period fits: it was laid 40 ms off, and more, without a word."""
    tone = np.tile(0.3 * np.sin(2 * np.pi * 1000 * np.arange(20 * RATE_HZ) / RATE_HZ)[:, None], 2)
    found = aligned(tmp_path, tone, np.concatenate([np.zeros((round(late_s * RATE_HZ), 2)), tone]))
    assert (found.best.lag_s, found.best.ppm) == (0.0, 0.0)
    assert not found.shown
    assert not found.ambiguous


def test_single_sines_far_apart_have_no_lag_that_an_equaliser_may_have_made(tmp_path: Path) -> None:
    piece = sines(1.0, 5.0, 9.0, 13.0, 17.0)
    found = aligned(tmp_path, piece, families.equaliser(np.random.default_rng(3), piece))
    assert (found.best.lag_s, found.best.ppm) == (0.0, 0.0)
    assert not found.shown


def test_where_music_sounds_the_lag_is_shown(tmp_path: Path, piece: Samples) -> None:
    assert aligned(tmp_path, piece, piece).shown
