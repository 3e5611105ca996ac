"""ITU-R BS.1770-5 (11/2023): coefficients, response, calibration, channel weights, blocks and gates.

Values are of the text and tables of Annex 1 and Annex 3 (read); what is computed here is computed from those tables, in
the plainest way, and not with the code under test.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from audio.clip import Clip
from audio.levels.k_weighting import k_weighting
from audio.levels.loudness import measure

RATES = [44_100, 48_000, 88_200, 96_000, 176_400, 192_000]
# Annex 1 tables 1 and 2, for 48 kHz.
SHELF = ([1.53512485958697, -2.69169618940638, 1.19839281085285], [1.0, -1.69065929318241, 0.73248077421585])
HIGH_PASS = ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621])


def test_the_48_khz_coefficients_are_those_of_the_tables() -> None:
    expected = [[*SHELF[0], *SHELF[1]], [*HIGH_PASS[0], *HIGH_PASS[1]]]
    np.testing.assert_allclose(k_weighting(48_000), expected, rtol=0, atol=2e-8)


@pytest.mark.parametrize(
    ("frequency_hz", "gain_db"),
    # Computed from the tables.
    [(20, -13.28), (50, -3.93), (100, -1.13), (200, -0.26), (500, 0.04), (1000, 0.70), (2000, 3.07), (4000, 3.97),
     (10_000, 4.04)],
)  # fmt: skip
def test_the_weighting_curve_at_48_khz(frequency_hz: float, gain_db: float) -> None:
    np.testing.assert_allclose(gain_db_of(k_weighting(48_000), [frequency_hz], 48_000), gain_db, rtol=0, atol=0.01)


@pytest.mark.parametrize(
    ("rate_hz", "atol_db"),
    [
        *((44_100, 0.003), (88_200, 0.015), (96_000, 0.015), (176_400, 0.02), (192_000, 0.02)),
        *((32_000, 0.02), (22_050, 0.06), (16_000, 0.12), (11_025, 0.3), (8_000, 0.5)),
    ],
)
def test_other_rates_have_the_response_of_48_khz(rate_hz: int, atol_db: float) -> None:
    # The text asks for "the same frequency response"; at low rates the shelf has no room left below half the rate.
    frequencies_hz = np.geomspace(20, min(20_000, 0.45 * rate_hz), 300)
    expected = gain_db_of(np.array([[*SHELF[0], *SHELF[1]], [*HIGH_PASS[0], *HIGH_PASS[1]]]), frequencies_hz, 48_000)
    found = gain_db_of(k_weighting(rate_hz), frequencies_hz, rate_hz)
    np.testing.assert_allclose(found, expected, rtol=0, atol=atol_db)


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 16_000, 22_050, 32_000, *RATES])
@pytest.mark.parametrize("channel", [0, 1, 2])
def test_a_full_scale_997_hz_sine_in_one_front_channel_reads_minus_3_01(rate_hz: int, channel: int) -> None:
    found = measure(sine(rate_hz, 5, {channel: 1.0})).integrated_lufs
    np.testing.assert_allclose(found, -3.01, rtol=0, atol=0.01)


@pytest.mark.parametrize(
    ("channels", "gains", "expected"),
    [
        (1, {0: 1.0}, -3.01),
        (2, {0: 1.0, 1: 1.0}, 0.00),
        (5, {3: 1.0}, -1.52),  # Ls: 10 log 1.41 above
        (5, {4: 1.0}, -1.52),
        (6, {4: 1.0}, -1.52),
        (6, {3: 1.0, 0: 1.0}, -3.01),  # the LFE is left out
        (8, {4: 1.0}, -3.01),  # beyond 120 degrees: 1.00 (Annex 3)
        (8, {6: 1.0}, -1.52),  # at the sides
        (7, {4: 1.0}, -3.01),  # behind
        (4, {2: 1.0}, -1.52),
    ],
)
def test_channel_weights(channels: int, gains: dict[int, float], expected: float) -> None:
    found = measure(sine(48_000, channels, gains)).integrated_lufs
    np.testing.assert_allclose(found, expected, rtol=0, atol=0.01)


def test_blocks_and_gates_as_the_text_says_them() -> None:
    rng = np.random.default_rng(1770)
    for length_s in (0.4, 0.45, 0.499, 0.5, 1.06, 3.06, 10.0, 30.07):
        # Noise whose level wanders over 90 dB in stretches of a third of a second, so that both gates bite.
        frames = round(length_s * 48_000)
        levels = 10 ** (rng.uniform(-90, 0, frames // 16_000 + 1) / 20)
        samples = rng.standard_normal((frames, 2)) * 0.2 * np.repeat(levels, 16_000)[:frames, None]
        found = measure(Clip(samples, 48_000)).integrated_lufs
        expected = plain_integrated(samples)
        if expected is None:
            assert found is None
        else:
            np.testing.assert_allclose(found, expected, rtol=0, atol=1e-6, err_msg=f"{length_s} s")


def test_the_last_block_is_used_only_when_whole() -> None:
    clip = sine(48_000, 2, {0: 0.1, 1: 0.1}, length_s=1.0)
    whole = measure(clip).integrated_lufs
    for extra in (1, 2400, 4799):  # up to one frame short of the next block: half of which pyloudnorm counts as full
        longer = Clip(np.concatenate([clip.samples, np.zeros((extra, 2))]), 48_000)
        np.testing.assert_allclose(measure(longer).integrated_lufs, whole, rtol=0, atol=1e-12)
    longer = Clip(np.concatenate([clip.samples, np.zeros((4800, 2))]), 48_000)
    after = measure(longer).integrated_lufs
    assert after is not None
    assert whole is not None
    assert after < whole - 0.1


def test_a_stretch_just_below_the_relative_gate_is_left_out_and_just_above_it_is_not() -> None:
    loud_s, quiet_s = 60, 60
    for below_lu in (7.0, 30.0):
        quiet = 0.1 * 10 ** (-below_lu / 20)
        samples = np.concatenate(
            [sine(48_000, 1, {0: 0.1}, loud_s).samples, sine(48_000, 1, {0: quiet}, quiet_s).samples]
        )
        found = measure(Clip(samples, 48_000)).integrated_lufs
        loud = -20 - 3.01
        # Without the gate: the mean of both powers. With it: the loud one alone (but for blocks across the seam).
        expected = loud + 10 * np.log10((1 + 10 ** (-below_lu / 10)) / 2) if below_lu == 7.0 else loud
        np.testing.assert_allclose(found, expected, rtol=0, atol=0.03)


def sine(rate_hz: int, channels: int, gains: dict[int, float], length_s: float = 3.0) -> Clip:
    t = np.arange(round(length_s * rate_hz)) / rate_hz
    samples = np.zeros((t.size, channels))
    for channel, gain in gains.items():
        samples[:, channel] = gain * np.sin(2 * np.pi * 997 * t)
    return Clip(samples, rate_hz)


def gain_db_of(sections: np.ndarray, frequencies_hz: np.ndarray | list[float], rate_hz: int) -> np.ndarray:
    _, response = signal.sosfreqz(sections, frequencies_hz, fs=rate_hz)
    return 20 * np.log10(np.abs(response))


def plain_integrated(samples: np.ndarray) -> float | None:
    """Annex 1, equations 1 to 7, for front channels at 48 kHz, block by block."""
    weighted = signal.lfilter(*HIGH_PASS, signal.lfilter(*SHELF, samples, axis=0), axis=0)
    powers = []
    start = 0
    while start + 19_200 <= len(weighted):
        powers.append(np.sum(np.mean(weighted[start : start + 19_200] ** 2, axis=0)))
        start += 4800
    above = [power for power in powers if -0.691 + 10 * np.log10(power) > -70]
    if not above:
        return None
    gate = -0.691 + 10 * np.log10(np.mean(above)) - 10
    kept = [power for power in above if -0.691 + 10 * np.log10(power) > gate]
    return float(-0.691 + 10 * np.log10(np.mean(kept)))
