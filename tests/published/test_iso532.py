"""Loudness by ISO 532-1 (Zwicker, both methods) against those of the standard's own test signals that can be made.

No package carries the standard's recordings (neither the library's wheel nor its source), so the tones are made here as
Annex B describes them, and signal 1 from its levels in thirds of an octave. The loudness of signal 1 and of the 1 kHz
tone stands in the library's own tests, which quote the standard, the levels of signal 1 in those of its version 0.3.3;
the other two tones are from memory. Tolerance: 5 % or 0.1 sone (5.1, as those tests quote it).
"""

from __future__ import annotations

import numpy as np
import pytest

from audio.clip import Clip
from audio.levels.zwicker import courses_sone, loudness_sone, n5_phon, phon

FULL_SCALE_SPL_DB = 100.0
# signal 1 (B.2): from 25 Hz to 12.5 kHz, in dB
SIGNAL_1_DB = (
    -60,
    -60,
    78,
    79,
    89,
    72,
    80,
    89,
    75,
    87,
    85,
    79,
    86,
    80,
    71,
    70,
    72,
    71,
    72,
    74,
    69,
    65,
    67,
    77,
    68,
    58,
    45,
    30,
)


def tone(freq_hz: float, spl_db: float, rate_hz: int = 48_000, seconds: float = 1.0, channels: int = 1) -> Clip:
    """A tone of that level at the chair, all channels together."""
    peak = np.sqrt(2 / channels) * 10 ** ((spl_db - FULL_SCALE_SPL_DB) / 20)
    sound = peak * np.sin(2 * np.pi * freq_hz * np.arange(round(seconds * rate_hz)) / rate_hz)
    return Clip(np.repeat(sound[:, None], channels, axis=1), rate_hz)


# signals 2, 3 and 4: from memory, and (3) as quoted
@pytest.mark.parametrize(("freq_hz", "spl_db", "sone"), [(250, 80, 14.655), (1000, 60, 4.019), (4000, 40, 1.549)])
@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
def test_iso_532_tones_have_the_standards_loudness(freq_hz: float, spl_db: float, sone: float, rate_hz: int) -> None:
    [found] = loudness_sone([tone(freq_hz, spl_db, rate_hz)], FULL_SCALE_SPL_DB)
    assert abs(found - sone) <= max(0.05 * sone, 0.1)
    assert abs(found - sone) <= 0.015 * sone  # what it keeps here: a level wrong by a quarter of a decibel would not


def test_iso_532_calls_a_tone_of_40_db_at_1_khz_one_sone_and_40_phon() -> None:
    """The definition of both units."""
    [found] = loudness_sone([tone(1000, 40)], FULL_SCALE_SPL_DB)
    assert found == pytest.approx(1.0, abs=0.01)
    assert (phon(1.0), phon(2.0)) == (40.0, 50.0)


def test_channels_are_heard_together_and_neither_length_nor_company_matters() -> None:
    alone = loudness_sone([tone(1000, 60)], FULL_SCALE_SPL_DB)[0]
    pair, short, company = tone(1000, 60, channels=2), tone(1000, 60, seconds=0.4), tone(250, 80)
    assert loudness_sone([pair, company, short], FULL_SCALE_SPL_DB)[::2] == pytest.approx([alone, alone], rel=0.01)
    assert loudness_sone([Clip(np.zeros((48_000, 1)), 48_000)], FULL_SCALE_SPL_DB) == [0.0]


def signal_1(seconds: float = 1.0) -> Clip:
    """A tone in the middle of each third of an octave."""
    hz = 1000 * 10 ** ((np.arange(len(SIGNAL_1_DB)) - 16) / 10)
    parts = [tone(freq, level, seconds=seconds).samples for freq, level in zip(hz, SIGNAL_1_DB, strict=True)]
    return Clip(np.sum(parts, axis=0), 48_000)


def test_iso_532_signal_1_has_the_standards_loudness() -> None:
    [found] = loudness_sone([signal_1()], FULL_SCALE_SPL_DB)
    assert abs(found - 83.296) <= 0.05 * 83.296
    assert abs(found - 83.296) <= 0.01 * 83.296  # what it keeps here


# signals 2 and 3, held for a second: after its start a steady sound is as loud as the other method says
@pytest.mark.parametrize(("freq_hz", "spl_db", "sone"), [(250, 80, 14.655), (1000, 60, 4.019)])
def test_the_time_varying_method_gives_a_steady_tone_the_standards_loudness(
    freq_hz: float, spl_db: float, sone: float
) -> None:
    course = courses_sone([tone(freq_hz, spl_db, 44_100)], FULL_SCALE_SPL_DB)[0]
    assert course.shape == (500,)
    assert abs(course[250:-10] - sone).max() <= 0.01 * sone
    assert course[0] < 0.1 * sone  # the ear takes its time


def test_n5_of_40_db_at_1_khz_is_40_phon_and_channels_are_heard_together() -> None:
    assert n5_phon([tone(1000, 40, channels=2)], FULL_SCALE_SPL_DB)[0] == pytest.approx(40.0, abs=0.02)


def test_stretches_side_by_side_come_to_what_the_library_finds_in_one_go() -> None:
    """Of strokes with silence between them, over the borders of stretches, so that decays decide."""
    from mosqito.sq_metrics.loudness.loudness_zwtv.loudness_zwtv import loudness_zwtv

    rng = np.random.default_rng(11)
    strokes = np.exp(-np.arange(14_000) / 2000) * rng.standard_normal(14_000)
    sound = np.concatenate([np.zeros(5_000), *[strokes * size for size in (0.02, 0.3, 0.05)], np.zeros(5_000)])
    ours = courses_sone([Clip(np.zeros((9_600, 1)), 48_000), Clip(sound[:, None], 48_000)], 94.0)[1]
    theirs = loudness_zwtv(sound * 2e-5 * 10 ** (94 / 20), 48_000)[0]
    np.testing.assert_allclose(ours, theirs, atol=0.002)  # of up to 30 sone
    assert theirs.max() > 20 > 2 > theirs[:-10].min()
