"""Whole recordings laid against one another: lead-ins, loops, rooms, other takes and clocks. True lags are planted."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline

from audio.alignment import coarse, coherence, movements, track
from audio.alignment.track import TrackAlignment
from audio.clip import Clip
from audio.files import writing
from tests import families

RATE_HZ = families.RATE_HZ
LENGTH_S = 18.0
LOOP_S = 2.655
Samples = NDArray[np.float64]


@pytest.fixture(scope="module")
def events() -> list[families.Event]:
    return families.score(np.random.default_rng(2), LENGTH_S)


@pytest.fixture(scope="module")
def piece(events: list[families.Event]) -> Samples:
    return families.played(events, LENGTH_S)


@pytest.fixture(scope="module")
def loop(piece: Samples) -> Samples:
    """The same 2.655 s over and over, without a sample's difference, between two pauses."""
    turn = piece[5 * RATE_HZ : 5 * RATE_HZ + round(LOOP_S * RATE_HZ)]
    pause = np.zeros((RATE_HZ, 2))
    return np.concatenate([pause, *[turn] * 6, pause])


def after(silence_s: float, samples: Samples) -> Samples:
    return np.concatenate([np.zeros((round(silence_s * RATE_HZ), 2)), samples])


def through_another(samples: Samples, seed: int = 4) -> Samples:
    rng = np.random.default_rng(seed)
    return families.noisy(rng, families.equaliser(rng, samples))


def aligned(folder: Path, one: Samples, two: Samples, rate_hz: int = RATE_HZ) -> TrackAlignment:
    writing.write(folder / "one.wav", Clip(one, RATE_HZ), subtype="FLOAT")
    writing.write(folder / "two.wav", Clip(two, rate_hz), subtype="FLOAT")
    found = track.align_files(folder / "one.wav", folder / "two.wav")
    assert found is not None
    return found


@pytest.mark.parametrize("late_s", [0.0, 6.0, 9.0, 31.0])
def test_a_lead_in_of_up_to_a_minute_is_found(tmp_path: Path, piece: Samples, late_s: float) -> None:
    found = aligned(tmp_path, piece, after(late_s, through_another(piece)))
    assert found.found
    assert not found.ambiguous
    assert found.best.lag_s == pytest.approx(late_s, abs=50e-6)
    assert found.best.ppm == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize("late_s", [2.1, 4.0, -4.0])
def test_a_loop_is_found_at_its_own_place_and_not_a_turn_later(tmp_path: Path, loop: Samples, late_s: float) -> None:
    """By the whole track: 2.1 s was taken for −0.555 s, one turn of the loop away."""
    one, two = (
        (loop, after(late_s, through_another(loop))) if late_s > 0 else (after(-late_s, loop), through_another(loop))
    )
    found = aligned(tmp_path, one, two)
    assert found.found
    assert not found.ambiguous
    assert found.best.lag_s == pytest.approx(late_s, abs=50e-6)


def test_a_loop_whose_beginning_was_cut_off_may_lie_at_two_places(tmp_path: Path, loop: Samples) -> None:
    """No pause on either side, and 2.1 s less at the front: one turn later all that both hold fits as well."""
    sounding = loop[RATE_HZ:-RATE_HZ]
    found = aligned(tmp_path, sounding, through_another(sounding)[round(2.1 * RATE_HZ) :])
    assert found.ambiguous
    assert found.next_best is not None
    assert found.best.lag_s == pytest.approx(-2.1, abs=1e-4)
    turns = (found.next_best.lag_s - found.best.lag_s) / LOOP_S
    assert turns == pytest.approx(round(turns), abs=1e-4)
    assert round(turns) != 0
    assert abs(found.next_worse) < track.EQUAL


def test_a_loop_of_which_both_hold_the_whole_is_sure(tmp_path: Path, loop: Samples) -> None:
    sounding = loop[RATE_HZ:-RATE_HZ]
    found = aligned(tmp_path, sounding, through_another(sounding))
    assert found.found
    assert not found.ambiguous
    assert found.best.lag_s == pytest.approx(0.0, abs=50e-6)


def test_a_voice_over_a_loop_tells_its_turns_apart(tmp_path: Path, loop: Samples, events: list[families.Event]) -> None:
    voice = families.played([each for each in events if each.instrument in ("voice", "pluck")], LENGTH_S)
    song = loop[RATE_HZ : RATE_HZ + len(voice) - 2 * RATE_HZ] + 0.4 * voice[: -2 * RATE_HZ]
    found = aligned(tmp_path, song, through_another(song)[4 * RATE_HZ :])
    assert found.found
    assert not found.ambiguous
    assert found.best.lag_s == pytest.approx(-4.0, abs=50e-6)


FAMILIES: dict[str, Callable[[np.random.Generator, Samples], Samples]] = {
    "equaliser": families.equaliser,
    "crossover": families.crossover,
    "a room of 0.3 s": lambda rng, x: families.room(rng, x, 0.3, 0.0),
    "a room of 0.8 s, far away": lambda rng, x: families.room(rng, x, 0.8, -10.0),
    "compressor": lambda _, x: families.compressed(x, 4.0),
    "remaster": families.remastered,
}


@pytest.mark.parametrize("family", FAMILIES)
def test_the_same_performance_stays_the_same(tmp_path: Path, piece: Samples, family: str) -> None:
    rng = np.random.default_rng(5)
    found = aligned(tmp_path, piece, families.noisy(rng, FAMILIES[family](rng, after(1.0, piece))))
    assert found.best.coherence > 0.7
    assert found.best.lag_s == pytest.approx(1.0, abs=0.001)


@pytest.mark.parametrize("jitter_ms", [4, 16])
def test_another_take_at_the_same_tempo_is_not_the_same_performance(
    tmp_path: Path, piece: Samples, events: list[families.Event], jitter_ms: int
) -> None:
    rng = np.random.default_rng(6)
    take = families.played(families.another_take(rng, events, jitter_ms / 1000), LENGTH_S)
    found = aligned(tmp_path, piece, families.noisy(rng, take))
    assert not found.found
    assert abs(found.best.coherence) < 0.15


@pytest.mark.parametrize("ppm", [-60.0, 800.0])
def test_another_clock_is_found_with_the_lag(tmp_path: Path, piece: Samples, ppm: float) -> None:
    """A recorder that begins 3 s early and runs fast by so much, read off the samples by a spline of fifth order."""
    whole = after(3.0, piece)
    curve = make_interp_spline(np.arange(len(whole)), whole, k=5)
    frames = int(len(whole) * (1 + 1e-6 * ppm)) - 2
    found = aligned(tmp_path, piece, through_another(curve(np.arange(frames) / (1 + 1e-6 * ppm))))
    assert found.best.ppm == pytest.approx(ppm, abs=1.5)
    assert found.best.lag_s == pytest.approx(3.0 * (1 + 1e-6 * ppm), abs=60e-6)
    assert found.best.coherence > 0.9


def test_music_of_another_kind_is_not_found(tmp_path: Path, piece: Samples) -> None:
    other = families.played(families.score(np.random.default_rng(77), LENGTH_S), LENGTH_S)
    assert not aligned(tmp_path, piece, other).found


def test_a_turned_polarity_one_channel_and_exchanged_channels_do_not_matter(tmp_path: Path, piece: Samples) -> None:
    late = after(2.0, through_another(piece))
    for changed in (-late[:, :1], late[:, ::-1] * [1.0, -1.0]):
        found = aligned(tmp_path, piece, changed)
        assert found.found
        assert found.best.lag_s == pytest.approx(2.0, abs=60e-6)


def test_movements_of_a_file_in_turn_are_those_of_the_whole(tmp_path: Path, piece: Samples) -> None:
    """11 025 Hz: a step is 220.5 frames, and blocks end anywhere in it."""
    clip = Clip(piece, 11_025)
    writing.write(tmp_path / "a.wav", clip, subtype="DOUBLE")
    one, two = movements.of_clip(clip), movements.of_file(tmp_path / "a.wav")
    np.testing.assert_allclose(one.moved, two.moved, atol=1e-4)
    np.testing.assert_allclose(one.loud_db, two.loud_db, atol=1e-4)


def test_coherence_of_independent_noise_is_nothing_and_of_a_filter_whole() -> None:
    rng = np.random.default_rng(0)
    one, two = rng.standard_normal((2, 10 * RATE_HZ))
    assert abs(coherence.coherence(one, two, RATE_HZ)) < 0.02
    assert coherence.coherence(one, np.convolve(one, [0.5, -1.0, 0.2], "same"), RATE_HZ) > 0.99


def test_steady_tones_with_breaks_between_them_do_not_pass_for_the_same(events: list[families.Event]) -> None:
    """Held notes keep their phase while they last: what is compared lies further apart than that."""
    rng = np.random.default_rng(8)
    held = [each for each in events if each.instrument in ("pad", "bass", "pluck")]
    one = families.played(held, LENGTH_S)
    two = families.played(families.another_take(rng, held, 0.008), LENGTH_S)
    assert coherence.coherence(one.mean(axis=1), two.mean(axis=1), RATE_HZ) < 0.2


def test_silence_against_music_counts_as_missing(piece: Samples) -> None:
    one = movements.of_clip(Clip(piece, RATE_HZ))
    hushed = piece.copy()
    hushed[10 * RATE_HZ : 12 * RATE_HZ] = 0
    assert coarse.missing_s(one, movements.of_clip(Clip(hushed, RATE_HZ)), 0.0) == pytest.approx(2.0, abs=0.5)
    assert coarse.missing_s(one, one, 0.0) == 0.0


def test_what_little_two_recordings_share_tells_their_lag_to_a_fiftieth_of_a_millisecond(tmp_path: Path) -> None:
    rng = np.random.default_rng(0)
    music = families.played(families.score(rng, 48.0, drums=False), 48.0)
    both = music[: 30 * RATE_HZ], families.noisy(rng, music[18 * RATE_HZ :], 50.0)  # 12 s of 30 s are in both
    for name, samples in zip("ab", both, strict=True):
        writing.write(tmp_path / f"{name}.wav", Clip(0.5 * samples / np.abs(samples).max(), RATE_HZ))
    laid = track.align_files(tmp_path / "a.wav", tmp_path / "b.wav")
    assert laid is not None
    assert laid.best.lag_s == pytest.approx(-18.0, abs=20e-6)
    assert laid.best.lag_at(30.0) == pytest.approx(-18.0, abs=20e-6)  # the clock is no other there


def test_recordings_whose_channels_change_places_on_the_way_are_the_same_performance(
    piece: Samples, tmp_path: Path
) -> None:
    """Of channels that have little in common, as of one piece in each."""
    both = np.stack([piece[:, 0], np.roll(piece[:, 1], 5 * RATE_HZ)], axis=1)
    other = through_another(both)
    middle = len(other) // 2
    other[middle:] = other[middle:, ::-1]
    found = aligned(tmp_path, both, after(1.5, other))
    assert found.found
    assert found.best.lag_s == pytest.approx(1.5, abs=1e-4)
