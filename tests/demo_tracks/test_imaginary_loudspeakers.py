"""The imaginary loudspeakers: minimum phase, the character they claim, and renderings that agree with it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from demo_tracks.biquads import Biquad
from demo_tracks.loudspeakers import LOUDSPEAKERS, render, response_db

RATES_HZ = [44_100, 48_000, 88_200, 96_000, 176_400, 192_000]


def noise(frames: int = 4800, channels: int = 2) -> np.ndarray:
    return 0.1 * np.random.default_rng(7).standard_normal((frames, channels))


def relative_db(name: str, frequency_hz: float, rate_hz: int = 48_000, to_hz: float = 500.0) -> float:
    at, reference = response_db(name, [frequency_hz, to_hz], rate_hz)
    return float(at - reference)


def test_there_are_three_with_a_line_each() -> None:
    assert list(LOUDSPEAKERS) == ["sallow", "bracken", "sallow-late"]
    for name, loudspeaker in LOUDSPEAKERS.items():
        assert loudspeaker.name == name
        assert loudspeaker.description
        assert "\n" not in loudspeaker.description
        assert loudspeaker.filters


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("name", LOUDSPEAKERS)
def test_every_filter_is_minimum_phase(name: str, rate_hz: int) -> None:
    for one in LOUDSPEAKERS[name].filters:
        b, a = one.coefficients(rate_hz)
        assert np.abs(np.roots(a)).max() < 1.0
        zeros = np.roots(b)
        if one.kind == "high-pass":  # its two zeros stand at 0 Hz, on the circle; a double root is found to 1e-8
            np.testing.assert_allclose(zeros, [1.0, 1.0], atol=1e-6)
        else:
            assert np.abs(zeros).max() < 1.0


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("name", LOUDSPEAKERS)
def test_response_agrees_with_the_impulse_that_was_rendered(name: str, rate_hz: int) -> None:
    impulse = np.zeros((rate_hz, 1))
    impulse[0] = 1.0
    spectrum = np.fft.rfft(render(name, impulse, rate_hz)[:, 0])
    frequencies = np.fft.rfftfreq(rate_hz, 1.0 / rate_hz)
    audible = (frequencies >= 20.0) & (frequencies <= 20_000.0)
    np.testing.assert_allclose(
        response_db(name, frequencies[audible], rate_hz), 20.0 * np.log10(np.abs(spectrum[audible])), atol=1e-6
    )


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("name", LOUDSPEAKERS)
def test_response_agrees_with_scipy(name: str, rate_hz: int) -> None:
    frequencies = np.geomspace(20.0, 20_000.0, 200)
    loudspeaker = LOUDSPEAKERS[name]
    sections = np.array([np.concatenate(one.coefficients(rate_hz)) for one in loudspeaker.filters])
    _, expected = signal.sosfreqz(sections, worN=frequencies, fs=rate_hz)
    np.testing.assert_allclose(
        response_db(name, frequencies, rate_hz) - loudspeaker.level_db,
        20.0 * np.log10(np.abs(expected)),
        atol=1e-9,
    )


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize(
    ("one", "numerator", "denominator"),
    [
        # Analogue prototypes H(s) of the "Audio EQ Cookbook" (W3C Working Group Note 2021), from memory, for a gain
        # of 6 dB, A = 10^(6/40), and Q = 0.8; coefficients of s², s, 1 at the filter's own frequency.
        (Biquad("peaking", 900.0, 6.0, 0.8), lambda A, Q: (1, A / Q, 1), lambda A, Q: (1, 1 / (A * Q), 1)),
        (
            Biquad("low-shelf", 900.0, 6.0, 0.8),
            lambda A, Q: (A, A * A**0.5 / Q, A * A),
            lambda A, Q: (A, A**0.5 / Q, 1),
        ),
        (
            Biquad("high-shelf", 900.0, 6.0, 0.8),
            lambda A, Q: (A * A, A * A**0.5 / Q, A),
            lambda A, Q: (1, A**0.5 / Q, A),
        ),
        (Biquad("high-pass", 900.0, 0.0, 0.8), lambda A, Q: (1, 0, 0), lambda A, Q: (1, 1 / Q, 1)),
        (Biquad("low-pass", 900.0, 0.0, 0.8), lambda A, Q: (0, 0, 1), lambda A, Q: (1, 1 / Q, 1)),
    ],
    ids=["peaking", "low-shelf", "high-shelf", "high-pass", "low-pass"],
)
def test_a_filter_is_the_bilinear_transform_of_its_analogue_prototype(one, numerator, denominator, rate_hz) -> None:
    root = 10.0 ** (one.gain_db / 40.0)
    frequencies = np.geomspace(20.0, 20_000.0, 50)
    s = 1j * np.tan(np.pi * frequencies / rate_hz) / np.tan(np.pi * one.frequency_hz / rate_hz)
    expected = np.polyval(numerator(root, one.q), s) / np.polyval(denominator(root, one.q), s)
    _, found = signal.freqz(*one.coefficients(rate_hz), worN=frequencies, fs=rate_hz)
    np.testing.assert_allclose(found, expected, rtol=1e-8, atol=1e-12)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_sallow_lifts_near_2_khz_and_rolls_off_early(rate_hz: int) -> None:
    frequencies = np.geomspace(300.0, 12_000.0, 400)
    levels = response_db("sallow", frequencies, rate_hz)
    assert 1500.0 < frequencies[levels.argmax()] < 2500.0
    assert 1.0 < levels.max() - response_db("sallow", [300.0], rate_hz)[0] < 3.0
    assert relative_db("sallow", 60.0, rate_hz) < -2.5
    assert relative_db("sallow", 40.0, rate_hz) < -6.0


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_bracken_has_a_bump_at_100_hz_and_slightly_less_top_octave(rate_hz: int) -> None:
    frequencies = np.geomspace(30.0, 20_000.0, 800)
    levels = response_db("bracken", frequencies, rate_hz)
    assert 85.0 < frequencies[levels.argmax()] < 120.0
    assert 2.0 < levels.max() - response_db("bracken", [500.0], rate_hz)[0] < 4.0
    top = [relative_db("bracken", frequency_hz, rate_hz) for frequency_hz in (10_000.0, 14_000.0, 20_000.0)]
    assert all(-3.0 < level < -0.5 for level in top), top


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_the_later_run_differs_by_a_broad_dip_of_under_1_db_near_3_khz_only(rate_hz: int) -> None:
    frequencies = np.geomspace(20.0, 20_000.0, 800)
    dip = response_db("sallow-late", frequencies, rate_hz) - response_db("sallow", frequencies, rate_hz)
    assert 2700.0 < frequencies[dip.argmin()] < 3300.0
    np.testing.assert_allclose(dip.min(), -0.7, atol=0.01)
    # Broad: half its depth reaches over more than an octave; gone two octaves and more below.
    half = frequencies[dip < -0.35]
    assert half.max() / half.min() > 2.0
    assert np.abs(dip[frequencies < 500.0]).max() < 0.05
    assert dip.max() <= 1e-9


def test_the_first_pair_differs_by_several_decibels_once_levels_are_matched() -> None:
    frequencies = 1000.0 * 10.0 ** (np.arange(-14, 13) / 10.0)  # third octaves of IEC 61260-1, 40 Hz to 16 kHz
    apart = response_db("sallow", frequencies, 48_000) - response_db("bracken", frequencies, 48_000)
    apart = apart - np.median(apart)
    assert (np.abs(apart) >= 3.0).sum() >= 3


@pytest.mark.parametrize("name", LOUDSPEAKERS)
def test_silence_stays_silence(name: str) -> None:
    assert not render(name, np.zeros((1000, 2)), 48_000).any()


@pytest.mark.parametrize("name", LOUDSPEAKERS)
def test_the_same_samples_give_the_same_rendering_and_stay_untouched(name: str) -> None:
    samples = noise()
    before = samples.copy()
    np.testing.assert_array_equal(render(name, samples, 48_000), render(name, samples, 48_000))
    np.testing.assert_array_equal(samples, before)


@pytest.mark.parametrize("name", LOUDSPEAKERS)
@pytest.mark.parametrize("channels", [1, 2, 6])
def test_channels_are_rendered_apart_and_the_shape_is_kept(name: str, channels: int) -> None:
    samples = noise(channels=channels)
    together = render(name, samples, 48_000)
    assert together.shape == samples.shape
    assert together.dtype == np.float64
    for channel in range(channels):
        alone = render(name, samples[:, channel : channel + 1], 48_000)
        np.testing.assert_array_equal(together[:, channel : channel + 1], alone)


def test_no_frames_give_no_frames() -> None:
    assert render("sallow", np.zeros((0, 2)), 48_000).shape == (0, 2)


def test_nothing_passes_at_0_hz() -> None:
    assert response_db("sallow", 0.0, 48_000) == -np.inf


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("heather", noise(), 48_000), "no loudspeaker 'heather'; there are sallow, bracken, sallow-late"),
        (("sallow", noise(), 8_000), "play 44100 to 192000 Hz; got 8000"),
        (("sallow", noise(), 384_000), "play 44100 to 192000 Hz; got 384000"),
        (("sallow", noise()[:, 0], 48_000), r"\(frames, channels\); got shape \(4800,\)"),
        (("sallow", np.array([[0.0], [np.nan]]), 48_000), "NaN or infinite"),
        (("sallow", np.array([[0.0], [np.inf]]), 48_000), "NaN or infinite"),
    ],
)
def test_what_cannot_be_rendered_is_refused_in_one_line(arguments, message: str) -> None:
    with pytest.raises(ValueError, match=message) as refused:
        render(*arguments)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("frequency_hz", [-1.0, 24_001.0, np.nan])
def test_a_response_outside_the_band_is_refused(frequency_hz: float) -> None:
    with pytest.raises(ValueError, match="from 0 to 24000 Hz only"):
        response_db("bracken", [100.0, frequency_hz], 48_000)


@pytest.mark.parametrize(
    ("one", "message"),
    [
        (Biquad("peaking", 24_000.0), "peaking filter at 24000 Hz cannot be made at 48000 Hz"),
        (Biquad("peaking", 0.0), "between 0 and half the rate"),
        (Biquad("low-pass", 100.0, q=0.0), "needs a Q above 0, got 0"),
    ],
)
def test_a_filter_that_cannot_exist_is_refused(one: Biquad, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        one.coefficients(48_000)
