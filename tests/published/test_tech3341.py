"""EBU Tech 3341 (version 4, November 2023), table 1 (read): the minimum requirements on a loudness meter.

The signals are made here after the table. Cases 7 and 8 are real programmes and cannot be; 11 and 14 are those of
10 and 13 for a meter that is watched live. Tones: 1 kHz sine in phase in both channels, levels per channel and peak.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from audio.clip import Clip
from audio.levels.loudness import Loudness, Meter, measure
from audio.levels.true_peak import true_peak_db

RATES = [44_100, 48_000, 96_000, 192_000]
TOLERANCE_LU = 0.1  # table 1
TRUE_PEAK_UP_DB, TRUE_PEAK_DOWN_DB = 0.2, 0.4  # table 1


def tone(rate_hz: int, *parts: tuple[float, float], channels_db: tuple[float, ...] = (0.0, 0.0)) -> Clip:
    """Parts of (length in s, level in dBFS) of one unbroken 1 kHz sine; level -inf is silence."""
    levels = np.concatenate([np.full(round(length_s * rate_hz), 10 ** (level / 20)) for length_s, level in parts])
    sine = levels * np.sin(2 * np.pi * 1000 * np.arange(levels.size) / rate_hz)
    return Clip(sine[:, None] * 10 ** (np.array(channels_db) / 20), rate_hz)


SILENT = -np.inf


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize(("case", "level"), [(1, -23.0), (2, -33.0)])
def test_cases_1_and_2_read_the_same_on_all_three_scales(rate_hz: int, case: int, level: float) -> None:
    found = measure(tone(rate_hz, (20, level)))
    for reading in (found.momentary_max_lufs, found.short_term_max_lufs, found.integrated_lufs):
        np.testing.assert_allclose(reading, level, rtol=0, atol=TOLERANCE_LU, err_msg=f"case {case}")


GATED: dict[int, list[tuple[float, float]]] = {
    3: [(10, -36), (60, -23), (10, -36)],
    4: [(10, -72), (10, -36), (60, -23), (10, -36), (10, -72)],
    5: [(20, -26), (20.1, -20), (20, -26)],
}


@pytest.mark.parametrize(
    ("case", "rate_hz"), [(3, 48_000), (4, 48_000), (5, 48_000), (4, 44_100), (3, 96_000), (5, 192_000)]
)
def test_cases_3_to_5_the_gates(case: int, rate_hz: int) -> None:
    """All of them at one rate, and one at each other: the gates see blocks' loudness alone, whatever the rate."""
    found = measure(tone(rate_hz, *GATED[case])).integrated_lufs
    np.testing.assert_allclose(found, -23.0, rtol=0, atol=TOLERANCE_LU, err_msg=f"case {case}")


@pytest.mark.parametrize("rate_hz", RATES)
def test_case_6_five_channels(rate_hz: int) -> None:
    found = measure(tone(rate_hz, (20, 0.0), channels_db=(-28, -28, -24, -30, -30)))
    np.testing.assert_allclose(found.integrated_lufs, -23.0, rtol=0, atol=TOLERANCE_LU)


@pytest.mark.parametrize("rate_hz", RATES)
def test_case_9_short_term_stays_constant_after_3_s(rate_hz: int) -> None:
    clip = tone(rate_hz, *[(1.34, -20.0), (1.66, -30.0)] * 5)
    np.testing.assert_allclose(fed(clip).short_term_lufs(), -23.0, rtol=0, atol=TOLERANCE_LU)


@pytest.mark.parametrize("rate_hz", RATES)
def test_case_10_short_term_maximum_wherever_the_tone_lies(rate_hz: int) -> None:
    for i in range(20):
        found = measure(tone(rate_hz, (0.15 * i, SILENT), (3, -23.0), (1, SILENT)))
        np.testing.assert_allclose(found.short_term_max_lufs, -23.0, rtol=0, atol=TOLERANCE_LU, err_msg=f"file {i}")


@pytest.mark.parametrize("rate_hz", RATES)
def test_case_12_momentary_stays_constant_after_1_s(rate_hz: int) -> None:
    clip = tone(rate_hz, *[(0.18, -20.0), (0.22, -30.0)] * 25)
    readings = fed(clip).momentary_lufs()
    after_1_s = readings[100 - 40 :]
    np.testing.assert_allclose(after_1_s, -23.0, rtol=0, atol=TOLERANCE_LU)


@pytest.mark.parametrize("rate_hz", RATES)
def test_case_13_momentary_maximum_wherever_the_tone_lies(rate_hz: int) -> None:
    for i in range(20):
        found = measure(tone(rate_hz, (0.02 * i, SILENT), (0.4, -23.0), (1, SILENT)))
        np.testing.assert_allclose(found.momentary_max_lufs, -23.0, rtol=0, atol=TOLERANCE_LU, err_msg=f"file {i}")


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize(
    ("case", "frames_a_period", "amplitude", "phase_degrees", "expected_dbtp"),
    [
        (15, 4, 0.50, 0.0, -6.0),
        (16, 4, 0.50, 45.0, -6.0),
        (17, 6, 0.50, 60.0, -6.0),
        (18, 8, 0.50, 67.5, -6.0),
        (19, 4, 1.41, 45.0, 3.0),
    ],
)
def test_cases_15_to_19_true_peak_of_tones(
    rate_hz: int, case: int, frames_a_period: int, amplitude: float, phase_degrees: float, expected_dbtp: float
) -> None:
    n = np.arange(rate_hz)
    fade = np.minimum(1.0, np.minimum(n, n[::-1]) / (0.01 * rate_hz))  # 10 ms, as the table says
    sine = fade * amplitude * np.sin(2 * np.pi * n / frames_a_period + np.radians(phase_degrees))
    assert_true_peak(sine, rate_hz, expected_dbtp)


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize(("case", "offset"), [(20, 0), (21, 1), (22, 2), (23, 3)])
def test_cases_20_to_23_true_peak_of_one_louder_period(rate_hz: int, case: int, offset: int) -> None:
    # Made at four times the rate: a tone at fs/6 of 0.50, one period at fs/4 of 1.00 where it crosses zero, and on in
    # phase; low-passed below fs/2 and every fourth sample taken, beginning with the one the case names.
    before = 24 * 500
    slow = 0.5 * np.sin(2 * np.pi * np.arange(2 * before) / 24)
    loud = np.sin(2 * np.pi * np.arange(16) / 16)
    dense = np.concatenate([slow[:before], loud, slow[before:]])
    ramp = np.minimum(1.0, np.minimum(np.arange(dense.size), np.arange(dense.size)[::-1]) / (0.04 * 48_000))
    low_pass = signal.firwin(1025, 0.48, window=("kaiser", 10.0), fs=4)
    decimated = np.convolve(dense * ramp, low_pass, mode="same")[offset::4]
    assert_true_peak(decimated, rate_hz, 0.0)


def assert_true_peak(samples: np.ndarray, rate_hz: int, expected_dbtp: float) -> None:
    for columns in ([samples], [samples, 0.1 * samples]):
        reading = true_peak_db(np.stack(columns, axis=1), rate_hz)
        assert reading is not None
        assert expected_dbtp - TRUE_PEAK_DOWN_DB <= reading <= expected_dbtp + TRUE_PEAK_UP_DB, reading


def fed(clip: Clip) -> Meter:
    meter = Meter(clip.rate_hz, clip.channels)
    meter.feed(clip.samples)
    assert isinstance(meter.result(), Loudness)
    return meter
