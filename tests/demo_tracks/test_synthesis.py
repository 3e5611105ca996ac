"""The parts the pieces are made of, each against an independent computation."""

from __future__ import annotations

import numpy as np
import pytest

from demo_tracks.arithmetic import RATE_HZ, cosine, decibels, exp2, note_hz, sine
from demo_tracks.harmonics import harmonics
from demo_tracks.modes import ring
from demo_tracks.noise import burst, generator, wander, white
from demo_tracks.singing import Sung, sing
from demo_tracks.stage import empty, finish, place, room

# The reference for sine and exponential is numpy's own, which is right to about one unit in the last place.


def test_sine_and_cosine_agree_with_numpy() -> None:
    cycles = np.linspace(-3.0, 3.0, 60_001)
    np.testing.assert_allclose(sine(cycles), np.sin(2 * np.pi * cycles), atol=1e-14)
    np.testing.assert_allclose(cosine(cycles), np.cos(2 * np.pi * cycles), atol=1e-14)
    assert sine(0.0) == 0.0


def test_exp2_agrees_with_numpy() -> None:
    power = np.linspace(-60.0, 60.0, 60_001)
    np.testing.assert_allclose(exp2(power), np.exp2(power), rtol=2e-15)
    np.testing.assert_array_equal(exp2([-1.0, 0.0, 10.0]), [0.5, 1.0, 1024.0])


def test_twenty_decibels_are_a_factor_of_ten_and_an_octave_a_factor_of_two() -> None:
    np.testing.assert_allclose(decibels([-20.0, 0.0, 20.0]), [0.1, 1.0, 10.0], rtol=1e-14)
    np.testing.assert_allclose(note_hz([57, 69, 81]), [220.0, 440.0, 880.0], rtol=1e-14)


def test_harmonics_are_the_sum_of_sines() -> None:
    cycles = np.linspace(0.0, 7.0, 5001)
    expected = sum(s * np.sin(2 * np.pi * (k + 1) * cycles) for k, s in enumerate((0.5, 0.2, 0.1)))
    np.testing.assert_allclose(harmonics(cycles, (0.5, 0.2, 0.1)), expected, atol=1e-12)


def test_a_partial_has_its_frequency_and_falls_by_60_db_in_its_decay() -> None:
    sound = ring(1.0, [500.0], [0.8], [1.0])
    time_s = np.arange(RATE_HZ) / RATE_HZ
    expected = 10.0 ** (-3.0 * time_s / 0.8) * np.sin(2 * np.pi * 500.0 * time_s)
    kept = slice(0, round(0.95 * RATE_HZ))
    np.testing.assert_allclose(sound[kept], expected[kept], atol=1e-9)
    assert abs(sound[-1]) < 1e-6


def test_partials_too_high_to_hear_are_left_out() -> None:
    assert not ring(0.1, [30_000.0], [0.1], [1.0]).any()


def test_white_noise_has_unit_deviation_and_a_flat_spectrum() -> None:
    sound = white(generator(1), 10.0)
    np.testing.assert_allclose([sound.mean(), sound.std()], [0.0, 1.0], atol=0.01)
    eighths = np.array_split(np.abs(np.fft.rfft(sound)) ** 2, 8)
    levels_db = 10.0 * np.log10([band.mean() for band in eighths])
    np.testing.assert_allclose(levels_db, levels_db.mean(), atol=0.2)


def test_the_same_seed_gives_the_same_noise_and_another_does_not() -> None:
    np.testing.assert_array_equal(white(generator(5), 0.1), white(generator(5), 0.1))
    assert (white(generator(5), 0.1) != white(generator(6), 0.1)).any()


def test_a_burst_falls_by_60_db_in_its_decay() -> None:
    sound = burst(generator(2), 0.5, 0.4, ())
    early, late = sound[2400:4800], sound[12000:14400]  # 0.05–0.10 s and 0.25–0.30 s: 0.2 s apart, 30 dB
    fall_db = 10.0 * np.log10(np.mean(early**2) / np.mean(late**2))
    np.testing.assert_allclose(fall_db, 30.0, atol=1.0)


def test_a_wandering_curve_stays_within_one_and_has_no_jumps() -> None:
    curve = wander(generator(3), 5.0, 0.5)
    assert len(curve) == 5 * RATE_HZ
    assert np.abs(curve).max() <= 1.0
    assert curve.std() > 0.1
    # A raised cosine over 0.5 s from −1 to 1 rises by at most π / (0.5 · rate) a frame.
    assert np.abs(np.diff(curve)).max() <= np.pi / (0.5 * RATE_HZ) + 1e-12


def test_placing_keeps_power_and_cuts_what_would_pass_the_end() -> None:
    stage = empty(1.0)
    place(stage, np.ones(RATE_HZ), 0.5, pan=0.3)
    assert not stage[: RATE_HZ // 2].any()
    np.testing.assert_allclose((stage[RATE_HZ // 2 :] ** 2).sum(axis=1), 1.0, rtol=1e-12)
    assert stage[-1, 1] > stage[-1, 0]
    before = stage.copy()
    place(stage, np.ones(10), 2.0)
    np.testing.assert_array_equal(stage, before)


def test_the_room_falls_by_60_db_in_its_decay_time() -> None:
    stage = empty(1.5)
    stage[0] = 1.0
    tail = room(stage, decay_s=0.8, level_db=0.0, damping_hz=20_000.0)[:, 0]
    # Schroeder's backward integration (JASA 37, 1965): the decay read from −5 to −25 dB, as ISO 3382-1 does for T20.
    energy_db = 10.0 * np.log10(np.cumsum(tail[2400:][::-1] ** 2)[::-1])
    energy_db -= energy_db[0]
    fall = np.flatnonzero((energy_db < -5.0) & (energy_db > -25.0))
    slope_db = np.polyfit(fall / RATE_HZ, energy_db[fall], 1)[0]
    assert 0.5 < -60.0 / slope_db < 1.0


def test_a_finished_piece_begins_and_ends_at_rest_at_the_level_asked_for() -> None:
    time_s = np.arange(RATE_HZ) / RATE_HZ
    out = finish(np.stack([np.sin(2 * np.pi * 1000.0 * time_s)] * 2, axis=1), level_db=-6.0)
    assert np.abs(out[[0, -1]]).max() < 2.0**-24  # rounds to zero at 24 bits
    np.testing.assert_allclose(np.abs(out[4800:14_400]).max(), 10.0 ** (-6.0 / 20.0), rtol=0.01)


@pytest.mark.parametrize(
    ("vowel", "formants_hz", "valley_hz"),
    [
        # Means of male speakers' formants after G. E. Peterson and H. L. Barney, JASA 24, 1952 (from memory), as
        # a band around each; the valley is a band of 600 Hz without a formant of that vowel.
        ("a", ((620, 860), (970, 1230)), (1500, 2100)),
        ("i", ((200, 380), (2050, 2450)), (900, 1500)),
        ("u", ((220, 440), (650, 1000)), (1250, 1850)),
    ],
)
def test_a_vowel_has_its_energy_at_its_formants(
    vowel: str, formants_hz: tuple[tuple[int, int], ...], valley_hz: tuple[int, int]
) -> None:
    sound = sing(generator(4), [Sung(0.0, 2.0, 45, vowel, 1.0)], 2.0, breath=0.0)
    middle = sound[RATE_HZ // 2 : 3 * RATE_HZ // 2]
    power = np.abs(np.fft.rfft(middle * np.hanning(RATE_HZ))) ** 2  # bins of 1 Hz
    for low_hz, high_hz in formants_hz:  # a formant is a peak: at least 3 dB above the valley, a limit of our own
        assert power[low_hz:high_hz].mean() > 2.0 * power[valley_hz[0] : valley_hz[1]].mean()


def test_a_voice_sings_its_note_with_vibrato_of_less_than_a_semitone() -> None:
    sound = sing(generator(4), [Sung(0.0, 3.0, 57, "a", 1.0)], 3.0, breath=0.0)[RATE_HZ : 2 * RATE_HZ]
    power = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
    fundamental = power[150:320]
    inside = power[round(220 / 2 ** (1 / 12)) : round(220 * 2 ** (1 / 12)) + 1].sum()
    assert inside / fundamental.sum() > 0.98


def test_silence_between_notes_is_silence() -> None:
    line = [Sung(0.0, 0.5, 57, "a", 1.0), Sung(1.5, 0.5, 57, "o", 1.0)]
    sound = sing(generator(4), line, 2.0, breath=0.001)
    assert np.abs(sound[round(1.2 * RATE_HZ) : round(1.45 * RATE_HZ)]).max() < 1e-3 * np.abs(sound).max()
