"""A steady tone that one recording holds, planted under music; held notes and what is made of them are none."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt

from audio.clip import Clip
from audio.giveaways import inspection, whine
from audio.giveaways.hum import Hum
from demo_tracks.biquads import Biquad, apply
from tests import families
from tests.benchmarks import clean_pairs

RATE_HZ = 48_000
LENGTH_S = 6.0
T_S = np.arange(round(LENGTH_S * RATE_HZ)) / RATE_HZ
Samples = NDArray[np.float64]


def tone(hz: float, level_dbfs: float) -> Samples:
    """A tone of that root mean square, alike in two channels."""
    wave = 10 ** (level_dbfs / 20) * np.sqrt(2) * np.sin(2 * np.pi * hz * T_S)
    return np.stack([wave, wave], axis=1)


def told(one: Samples, two: Samples) -> list[str]:
    ways = whine.either(Clip(one, RATE_HZ), Clip(two, RATE_HZ))
    return [each.what for each in whine.told("p", "two", ways, [])]


def noisy(samples: Samples, seed: int) -> Samples:
    """With a recorder's own noise, at -80 dBFS."""
    return samples + np.random.default_rng(seed).normal(0, 1e-4, samples.shape)


@pytest.fixture(scope="module")
def playing() -> tuple[Samples, Samples]:
    """Six seconds of drums, bass, chords and a melody, and the same through another loudspeaker."""
    rng = np.random.default_rng([4, 4])
    piece = 0.3 * families.played(families.score(rng, LENGTH_S), LENGTH_S, RATE_HZ)
    heard = apply((Biquad("peaking", 900.0, gain_db=4.0, q=1.0),), piece, RATE_HZ)
    return noisy(piece, 1), noisy(heard * piece.std() / heard.std(), 2)


@pytest.fixture(scope="module")
def organ() -> Samples:
    """A chord of 220, 277.18 and 329.63 Hz with harmonics, held from end to end."""
    notes = (220.0, 277.18, 329.63)
    parts = [tone(hz * times, -30.0 - 8 * times) for hz in notes for times in (1, 2, 3, 4)]
    return np.asarray(np.sum(parts, axis=0))


@pytest.mark.parametrize(("hz", "swapped"), [(3010.0, False), (15_625.0, True)])
def test_a_tone_is_told_of_the_one_that_holds_it_and_is_no_band_of_noise(
    playing: tuple[Samples, Samples], hz: float, swapped: bool
) -> None:
    one, two = playing
    one, two = (one + tone(hz, -55.0), two) if swapped else (one, two + tone(hz, -55.0))
    found = inspection.inspect("p", {"one": Clip(one, RATE_HZ), "two": Clip(two, RATE_HZ)})
    found = [each for each in found if each.kind in ("hum", "noise-floor")]
    owner, bare = ("one", "two") if swapped else ("two", "one")
    assert [(each.kind, each.setup) for each in found] == [("hum", owner)]
    assert found[0].what.startswith(f"{owner} holds a steady tone at {hz:.0f} Hz, {bare} does not")


def test_its_level_is_that_of_both_channels_a_weighted(playing: tuple[Samples, Samples]) -> None:
    one, two = playing
    found = whine.either(Clip(one, RATE_HZ), Clip(two + tone(1000.0, -60.0), RATE_HZ))[0]
    assert [round(each.hz) for each in found] == [1000]
    # A-weighting leaves 1 kHz as it is; two channels hold twice the power of one
    assert found[0].level_db == pytest.approx(-60.0 + 3.01, abs=0.5)


def test_a_fainter_tone_passes_and_both_are_named_where_each_has_its_own(playing: tuple[Samples, Samples]) -> None:
    one, two = playing
    assert told(one, two + tone(1000.0, -84.5)) == []
    (both,) = told(one + tone(5230.0, -62.0), two + tone(3010.0, -55.0))
    assert both.startswith(
        "two holds a steady tone at 3010 Hz, the reference does not (but holds a steady tone at 5230"
    )


@pytest.mark.parametrize(
    "change",
    [lambda x: x, lambda x: 0.1 * x, lambda x: x * (T_S < 0.7 * LENGTH_S)[:, None]],
    ids=["both hold it", "both, one fainter", "it ends"],
)
def test_what_both_hold_or_what_ends_is_no_tone_of_one(
    playing: tuple[Samples, Samples], change: Callable[[Samples], Samples]
) -> None:
    one, two = playing
    held = tone(3010.0, -55.0)
    assert told(one + (0 * held if (change(held)[-1] == 0).all() else held), two + change(held)) == []


def test_a_tone_of_both_is_none_of_one_where_a_filter_ends_below_it(playing: tuple[Samples, Samples]) -> None:
    one, two = (each + tone(15_625.0, -55.0) for each in playing)
    ended = sosfiltfilt(butter(12, 13_500.0, fs=RATE_HZ, output="sos"), two, axis=0)
    assert np.abs(np.fft.rfft(ended[:RATE_HZ, 0])[15_625]) < 1e-2 * np.abs(np.fft.rfft(two[:RATE_HZ, 0])[15_625])
    assert told(one, ended) == []


@pytest.mark.parametrize(
    "change",
    [
        lambda x: x + 3.0 * x**2 + 20.0 * x**3,
        lambda x: apply((Biquad("peaking", 277.18, gain_db=-20.0, q=30.0),), x, RATE_HZ),
        lambda x: apply((Biquad("peaking", 440.0, gain_db=-60.0, q=30.0),), x, RATE_HZ),
    ],
    ids=["distorted", "a notch at a note", "a harmonic gone"],
)
def test_what_is_made_of_held_notes_or_left_out_of_them_is_no_tone(
    organ: Samples, change: Callable[[Samples], Samples]
) -> None:
    changed = change(organ)
    one, two = noisy(organ, 1), noisy(changed - changed.mean(axis=0), 2)
    assert told(one, two) == []
    assert told(one, two + tone(6230.0, -30.0))  # louder than what is held: the look is not blind there


def test_what_a_room_rings_on_after_a_note_in_every_turn_of_a_loop_is_no_tone_and_one_in_it_is() -> None:
    """A loop of which one moment in five is faint, in a room of 0.3 s: 190 Hz rang there at -68 dBFS each time."""
    pair = clean_pairs.pair(37, 712)
    assert whine.either(pair.reference, pair.other) == ([], [])
    t = np.arange(pair.other.frames) / RATE_HZ
    held = pair.other.samples + 10 ** (-55.0 / 20) * np.sin(2 * np.pi * 3010.0 * t)[:, None]
    assert [round(each.hz) for each in whine.either(pair.reference, Clip(held, RATE_HZ))[0]] == [3010]


def test_multiples_of_the_mains_are_left_to_the_hum_that_is_told() -> None:
    hum = Hum(50.0, 4, -60.0, True, 100.0, 50.02)
    tones = [whine.Tone(2000.8, -50.0), whine.Tone(3010.0, -60.0)]
    assert [each.what.count("3010 Hz") for each in whine.told("p", "two", (tones, []), [hum, None])] == [1]
    assert whine.told("p", "two", (tones[:1], []), [hum, None]) == []
    assert whine.told("p", "two", (tones[:1], []), [None, None])
