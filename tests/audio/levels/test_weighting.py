"""Levels in each measure, against energies computed here in time and frequency, one by one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.signal import sosfilt

from audio.clip import Clip
from audio.files import reading
from audio.levels.loudness import integrated_lufs, measure
from audio.levels.weighting import (
    BY,
    By,
    a_weight_db,
    block_levels_db,
    c_weight_db,
    channel_levels_db,
    level_db,
    third_octave_bands,
)
from demo_tracks import tracks

RATES = [44_100, 48_000, 96_000, 192_000]
WEIGHED: list[By] = ["a", "c", "band"]
# ISO 266 preferred numbers (R10 series) for thirds of an octave from 20 Hz to 20 kHz
NOMINAL_HZ = [
    20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150,
    4000, 5000, 6300, 8000, 10_000, 12_500, 16_000, 20_000,
]  # fmt: skip


def tone(freq_hz: float, rate_hz: int = 48_000, seconds: float = 2.0, amplitude: float = 1.0) -> Clip:
    times = np.arange(round(seconds * rate_hz)) / rate_hz
    return Clip(amplitude * np.sin(2 * np.pi * freq_hz * times)[:, None], rate_hz)


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("by", BY)
def test_a_full_scale_sine_reads_3_db_below_full_scale(by: By, rate_hz: int) -> None:
    """10 log10(1/2) = -3.0103 dB at 1 kHz, where A, C and the band weigh nothing; BS.1770-5: -3.01 LKFS at 997 Hz."""
    freq = 997.0 if by == "bs1770" else 1000.0
    assert level_db(tone(freq, rate_hz), by) == pytest.approx(-3.0103, abs=0.002)


@pytest.mark.parametrize("by", WEIGHED)
def test_energies_of_channels_add_and_gains_show_in_full(by: By) -> None:
    music = reading.read(tracks.path("drums"))
    whole = level_db(music, by)
    parts = channel_levels_db(music, by)
    assert len(parts) == 2
    energy = sum(10 ** (part / 10) for part in parts if part is not None)
    assert whole == pytest.approx(10 * np.log10(energy), abs=1e-9)
    assert whole is not None
    assert level_db(Clip(music.samples * 10 ** (-7.3 / 20), music.rate_hz), by) == pytest.approx(whole - 7.3, abs=1e-9)


@pytest.mark.parametrize("frames", [95_999, 96_000])
@pytest.mark.parametrize("by", ["a", "c"])
def test_music_is_weighed_line_by_line(by: By, frames: int) -> None:
    """Parseval's theorem over the two-sided spectrum, with the curve of IEC 61672-1: even and odd lengths."""
    music = reading.read(tracks.path("strings"), 0, frames)
    curve = a_weight_db if by == "a" else c_weight_db
    gain = 10 ** (curve(np.abs(np.fft.fftfreq(frames, 1 / music.rate_hz))) / 20)
    spectrum = np.fft.fft(music.samples, axis=0) * gain[:, None]
    wanted = 10 * np.log10(np.sum(np.abs(spectrum) ** 2) / frames**2)
    assert level_db(music, by) == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize(("freq_hz", "heard"), [(499.5, False), (500.5, True), (1999.5, True), (2000.5, False)])
def test_the_band_begins_and_ends_at_500_and_2000_hz(freq_hz: float, heard: bool) -> None:
    """EBU Tech 3343: pink noise 500 to 2000 Hz. The tones fill whole periods, so each is one line of the spectrum."""
    level = level_db(tone(freq_hz), "band")
    assert level == (pytest.approx(-3.0103, abs=1e-4) if heard else None)


@pytest.mark.parametrize("path", sorted(Path("/usr/share/sounds/alsa").glob("*.wav")), ids=lambda path: path.stem)
def test_bs1770_is_the_loudness_of_the_meter(path: Path) -> None:
    clip = reading.read(path)
    assert level_db(clip, "bs1770") == integrated_lufs(clip)
    assert channel_levels_db(clip, "bs1770") == (integrated_lufs(clip),)


@pytest.mark.parametrize("by", BY)
def test_silence_has_no_level(by: By) -> None:
    silent = Clip(np.zeros((48_000, 2)), 48_000)
    assert level_db(silent, by) is None
    assert channel_levels_db(silent, by) == (None, None)
    half = Clip(np.concatenate([tone(1000, seconds=1).samples, np.zeros((48_000, 1))], axis=1), 48_000)
    assert channel_levels_db(half, by)[1] is None
    assert channel_levels_db(half, by)[0] == pytest.approx(-3.01, abs=0.01)


def test_an_unknown_measure_is_refused() -> None:
    with pytest.raises(ValueError, match="the measure is one of bs1770, a, c, band; got 'b'"):
        level_db(tone(1000), "b")  # type: ignore[arg-type]


@pytest.mark.parametrize("by", BY)
def test_a_steady_tone_has_the_same_level_in_every_block(by: By) -> None:
    """Blocks of 0.4 s; what is left over at the end counts in none. A, C and BS.1770 pass 1 kHz, all within 0.01 dB."""
    levels = block_levels_db(tone(1000, seconds=2.3), by)
    assert levels.shape == (5,)
    np.testing.assert_allclose(levels[1:-1], -3.0103, atol=0.01)


def test_blocks_in_bs1770_are_those_of_a_plain_meter() -> None:
    """Each block's energy after the coefficients printed in BS.1770-5 Annex 1 (48 kHz), gathered block by block."""
    shelf = [1.53512485958697, -2.69169619940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585]
    high_pass = [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621]
    music = reading.read(tracks.path("voice"))
    weighted = sosfilt([shelf, high_pass], music.samples, axis=0)
    wanted = [
        -0.691 + 10 * np.log10(np.sum(np.mean(np.square(weighted[start : start + 19_200]), axis=0)))
        for start in range(0, music.frames - 19_200 + 1, 19_200)
    ]
    loud = np.array(wanted) > -70
    assert loud.sum() > 20
    np.testing.assert_allclose(block_levels_db(music, "bs1770")[loud], np.array(wanted)[loud], atol=0.001)


def test_midbands_are_named_by_the_preferred_numbers() -> None:
    """ISO 266: the exact frequencies lie within 1.3 % of their nominal ones (31.623 and 31.5, 794.3 and 800 Hz)."""
    bands = third_octave_bands(48_000)
    assert bands.size == len(NOMINAL_HZ)
    np.testing.assert_allclose(bands, NOMINAL_HZ, rtol=0.013)
    np.testing.assert_allclose(bands[1:] / bands[:-1], 10**0.1, rtol=1e-12)
    assert third_octave_bands(192_000).size == 31
    assert third_octave_bands(8000)[-1] == pytest.approx(3162.28, rel=1e-5)  # 4 kHz's band ends above half the rate


@pytest.mark.parametrize("lufs", [-20.0, -40.0, -60.0, -64.0, -85.0])
def test_a_quiet_passage_reads_as_the_loud_one_turned_down(lufs: float) -> None:
    # music with pauses 20 dB down: at -60 LUFS the gate at -70 would cut them out and leave the rest 0.4 LU louder
    rng = np.random.default_rng(8)
    held = np.repeat(10 ** (rng.choice([0.0, -7.0, -13.0, -20.0], 20) / 20), 24_000)
    loud = Clip(0.2 * rng.standard_normal((480_000, 2)) * held[:, None], 48_000)
    normal = level_db(loud, "bs1770")
    assert normal is not None
    assert normal > -23  # where the standard's own reading is taken as it is
    assert normal == pytest.approx(measure(loud).integrated_lufs, abs=1e-9)
    quiet = level_db(Clip(loud.samples * 10 ** ((lufs - normal) / 20), 48_000), "bs1770")
    assert quiet == pytest.approx(lufs, abs=1e-3)
