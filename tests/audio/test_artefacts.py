"""Named artefacts: each is what it is called, of its size, as loud as the passage, and never beyond full scale."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.random import PCG64, Generator

from audio.artefacts import ARTEFACTS, LATE_MS, Artefact, Hiss, LateChannel, Reflection, named
from audio.clip import Clip
from audio.difference_steps import difference_steps
from audio.known_difference import CEILING_DBTP
from audio.levels.true_peak import true_peak_db
from audio.levels.weighting import level_db

RATE_HZ = 48_000


@pytest.fixture(scope="module")
def music() -> Clip:
    """Noise that falls towards high frequencies as music does, in stereo, so loud that a lift would clip."""
    rng = Generator(PCG64(3))
    white = rng.standard_normal((RATE_HZ, 2))
    spectrum = np.fft.rfft(white, axis=0) / np.sqrt(np.arange(1, RATE_HZ // 2 + 2))[:, None]
    pink = np.fft.irfft(spectrum, axis=0)
    pink[:, 1] = 0.5 * pink[:, 0] + 0.5 * pink[:, 1]
    pink *= np.sin(np.linspace(0, np.pi, RATE_HZ))[:, None] ** 0.25
    return Clip(0.95 * pink / np.abs(pink).max(), RATE_HZ)


@pytest.mark.parametrize("artefact", ARTEFACTS, ids=lambda one: one.key)
def test_the_sizes_rise_and_none_is_louder_than_the_passage_or_clips(artefact: Artefact, music: Clip) -> None:
    assert list(artefact.sizes) == sorted(set(artefact.sizes))
    assert artefact.start < len(artefact.sizes)
    wanted = [artefact.sizes[0], artefact.sizes[-1]]
    made = difference_steps(music, [artefact.make(size) for size in wanted], "bs1770")
    plain, *changed = (Clip(one.astype(np.float64), RATE_HZ) for one in made.sounds)
    drop_db = dict.fromkeys(wanted, 0.0) if artefact.key != "level" else {size: -size for size in wanted}
    for size, one in zip(wanted, changed, strict=True):
        assert true_peak_db(one.samples, RATE_HZ) <= CEILING_DBTP + 0.01
        assert level_db(one, "bs1770") - level_db(plain, "bs1770") == pytest.approx(drop_db[size], abs=0.02)
    assert np.sum(np.square(changed[1].samples - plain.samples)) > np.sum(np.square(changed[0].samples - plain.samples))


@pytest.mark.parametrize("key", ["lift-4000", "cut-250"])
def test_an_octave_is_changed_by_its_size_at_its_centre(key: str, music: Clip) -> None:
    artefact = named(key)
    assert artefact is not None
    centre_hz, size = int(key.partition("-")[2]), 6.0
    made = artefact.make(size).of(music)
    before, after = (np.abs(np.fft.rfft(one.samples[:, 0])) for one in (music, made))
    bin_of = round(centre_hz * music.frames / RATE_HZ)
    near = slice(bin_of - 3, bin_of + 4)
    found_db = 20 * np.log10(after[near].sum() / before[near].sum())
    assert found_db == pytest.approx(size if key.startswith("lift") else -size, abs=0.3)


def test_the_second_channel_is_late_by_the_time_it_says(music: Clip) -> None:
    made = LateChannel(0.25).of(music)
    np.testing.assert_array_equal(made.samples[:, 0], music.samples[:, 0])
    cross = np.fft.irfft(np.fft.rfft(made.samples[:, 1]) * np.conj(np.fft.rfft(music.samples[:, 1])))
    assert np.argmax(cross) == 12  # 0.25 ms at 48 kHz
    with pytest.raises(ValueError, match="needs two"):
        LateChannel(0.25).of(Clip(music.samples[:, :1], RATE_HZ))


def test_a_reflection_notches_where_it_is_half_a_wave_late(music: Clip) -> None:
    made = Reflection(-6.0).of(music)
    response = np.abs(np.fft.rfft(made.samples[:, 0])) / np.abs(np.fft.rfft(music.samples[:, 0]))
    first_hz = round(500 / LATE_MS)  # half a wave in 5 ms
    top_db, notch_db = (20 * np.log10(np.median(response[hz - 2 : hz + 3])) for hz in (2 * first_hz, first_hz))
    assert top_db == pytest.approx(20 * np.log10(1 + 10 ** (-6 / 20)), abs=0.2)
    assert notch_db == pytest.approx(20 * np.log10(1 - 10 ** (-6 / 20)), abs=0.2)


def test_hiss_lies_as_far_below_the_passage_as_it_says_and_is_the_same_each_time(music: Clip) -> None:
    added = Hiss(-40.0).of(music).samples - music.samples
    assert 10 * np.log10(np.mean(added**2) / np.mean(music.samples**2)) == pytest.approx(-40, abs=0.05)
    np.testing.assert_array_equal(Hiss(-40.0).of(music).samples, music.samples + added)
