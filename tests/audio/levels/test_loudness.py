"""The loudness meter: laws that hold for any sound, what short and silent sounds get, and streaming."""

from __future__ import annotations

import functools
import tracemalloc
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from audio.clip import Clip
from audio.errors import FileError, MeasureError
from audio.files import reading
from audio.levels.channel_layout import WAVE_ORDER
from audio.levels.interpolation import interpolators
from audio.levels.k_weighting import k_weighting
from audio.levels.loudness import Loudness, Meter, measure, measure_file
from audio.levels.true_peak import factor

RATES = [8_000, 11_025, 22_050, 44_100, 48_000, 96_000, 192_000]
FIGURES = [
    "integrated_lufs",
    "range_lu",
    "momentary_max_lufs",
    "short_term_max_lufs",
    "true_peak_dbtp",
    "sample_peak_dbfs",
]


@functools.lru_cache(maxsize=8)
def programme(rate_hz: int = 48_000, length_s: float = 8.0, channels: int = 2, seed: int = 1) -> Clip:
    """Noise whose level moves by 20 dB from half second to half second."""
    rng = np.random.default_rng(seed)
    frames = round(length_s * rate_hz)
    held = rate_hz // 2
    levels = 10 ** (rng.uniform(-30, -10, frames // held + 1) / 20)
    return Clip(rng.standard_normal((frames, channels)) * np.repeat(levels, held)[:frames, None], rate_hz)


@functools.cache
def measured_programme() -> Loudness:
    return measure(programme())


def assert_same(found: Loudness, expected: Loudness, atol: float = 1e-9) -> None:
    for figure in FIGURES:
        value, other = getattr(found, figure), getattr(expected, figure)
        assert (value is None) == (other is None), figure
        if value is not None:
            np.testing.assert_allclose(value, other, rtol=0, atol=atol, err_msg=figure)
    assert found.missing == expected.missing


@given(gain_db=st.floats(-20, 20))
@settings(deadline=None, max_examples=15)
def test_a_gain_moves_every_level_by_itself_and_the_range_not_at_all(gain_db: float) -> None:
    clip = programme()
    before, after = measured_programme(), measure(Clip(clip.samples * 10 ** (gain_db / 20), clip.rate_hz))
    for figure in FIGURES:
        moved = 0.0 if figure == "range_lu" else gain_db
        np.testing.assert_allclose(getattr(after, figure) - getattr(before, figure), moved, rtol=0, atol=1e-9)


@given(data=st.data(), rate_hz=st.sampled_from(RATES), channels=st.sampled_from([1, 2, 6]))
@settings(deadline=None, max_examples=25)
def test_any_blocks_give_the_same_result(data: st.DataObject, rate_hz: int, channels: int) -> None:
    frames = data.draw(st.integers(0, 5 * rate_hz))
    clip = programme(rate_hz, frames / rate_hz, channels)
    meter = Meter(rate_hz, channels)
    start = 0
    while start < clip.frames:
        step = data.draw(st.integers(1, max(1, clip.frames // 3)))
        meter.feed(clip.samples[start : start + step])
        if data.draw(st.booleans()):
            meter.result()  # reading on the way changes nothing
        start += step
    assert_same(meter.result(), measure(clip))


@pytest.mark.parametrize("rate_hz", [11_025, 22_050])
def test_frames_fed_one_by_one_give_the_same_result(rate_hz: int) -> None:
    clip = programme(rate_hz, 0.5)
    meter = Meter(rate_hz, 2)
    for frame in range(clip.frames):
        meter.feed(clip.samples[frame : frame + 1])
    assert_same(meter.result(), measure(clip))


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("length_s", [0.4, 1.0, 3.0, 7.3])
def test_lengths_of_whole_blocks_read_as_pyloudnorm_reads_them(rate_hz: int, length_s: float) -> None:
    clip = programme(rate_hz, length_s)
    # Its coefficients drift with the rate (by 0.04 dB at 192 kHz, 0.5 dB at 8 kHz); ours are held at 997 Hz.
    atol = {48_000: 1e-6, 44_100: 0.006}.get(rate_hz, 0.05 if rate_hz > 16_000 else 0.25)
    expected = pyloudnorm.Meter(rate_hz, filter_class="DeMan").integrated_loudness(clip.samples)
    np.testing.assert_allclose(measure(clip).integrated_lufs, expected, rtol=0, atol=atol)


@pytest.mark.parametrize("rate_hz", [11_025, 44_100, 48_000, 192_000])
def test_every_figure_is_the_plain_formulas(rate_hz: int) -> None:
    # sample by sample: scipy's recursion, blocks summed one by one (BS.1770-5 Annex 1), every point between samples
    clip = programme(rate_hz, 6.0)
    weighted = signal.sosfilt(k_weighting(rate_hz), clip.samples, axis=0)
    powers = np.sum(weighted**2, axis=1)
    edges = [(k * rate_hz + 50) // 100 for k in range(601)]
    blocks = np.array([powers[edges[k] : edges[k + 40]].mean() for k in range(0, 561, 10)])
    kept = blocks[-0.691 + 10 * np.log10(blocks) > -70]
    kept = kept[-0.691 + 10 * np.log10(kept) > -0.691 + 10 * np.log10(kept.mean()) - 10]
    found = measure(clip)
    np.testing.assert_allclose(found.integrated_lufs, -0.691 + 10 * np.log10(kept.mean()), rtol=0, atol=1e-9)
    momentary = max(powers[edges[k] : edges[k + 40]].mean() for k in range(561))
    np.testing.assert_allclose(found.momentary_max_lufs, -0.691 + 10 * np.log10(momentary), rtol=0, atol=1e-9)
    taps = interpolators(factor(rate_hz)).T
    around = np.pad(clip.samples, ((63, 63), (0, 0)))
    top = max(np.abs(np.lib.stride_tricks.sliding_window_view(around[:, c], 64) @ taps).max() for c in range(2))
    top = max(top, np.abs(clip.samples).max())
    np.testing.assert_allclose(found.true_peak_dbtp, 20 * np.log10(top), rtol=0, atol=1e-9)


@pytest.mark.parametrize("rate_hz", [11_025, 22_050, 48_000])
def test_the_maxima_are_those_of_every_window_10_ms_apart(rate_hz: int) -> None:
    # Computed from the 48 kHz tables of BS.1770-5 where they apply, else from pyloudnorm's filters; window by window.
    clip = programme(rate_hz, 5.0)
    stages = pyloudnorm.Meter(rate_hz, filter_class="DeMan")._filters.values()
    weighted = clip.samples
    for stage in stages:
        weighted = signal.lfilter(stage.b, stage.a, weighted, axis=0)
    powers = np.concatenate([[0.0], np.cumsum(np.sum(weighted**2, axis=1))])
    found = measure(clip)
    for figure, length_s in (("momentary_max_lufs", 0.4), ("short_term_max_lufs", 3.0)):
        starts = [(k * rate_hz + 50) // 100 for k in range(int((5.0 - length_s) * 100 + 1.5))]
        ends = [((k + round(length_s * 100)) * rate_hz + 50) // 100 for k in range(len(starts))]
        means = [(powers[end] - powers[start]) / (end - start) for start, end in zip(starts, ends, strict=True)]
        expected = -0.691 + 10 * np.log10(max(means))
        calibration = 1e-6 if rate_hz == 48_000 else 0.05
        np.testing.assert_allclose(getattr(found, figure), expected, rtol=0, atol=calibration)


def test_mono_reads_3_lu_below_the_same_sound_in_two_channels() -> None:
    mono = programme(channels=1)
    both = Clip(np.repeat(mono.samples, 2, axis=1), mono.rate_hz)
    one, two = measure(mono), measure(both)
    assert one.integrated_lufs is not None
    assert two.integrated_lufs is not None
    np.testing.assert_allclose(two.integrated_lufs - one.integrated_lufs, 10 * np.log10(2), rtol=0, atol=1e-9)
    assert one.true_peak_dbtp == two.true_peak_dbtp


def test_channels_are_taken_in_wave_order_unless_positions_are_given() -> None:
    clip = programme(length_s=4.0, channels=6)
    for channels, names in WAVE_ORDER.items():
        some = programme(length_s=4.0, channels=channels)
        assert_same(measure(some, names), measure(some))
    without_lfe = Clip(clip.samples[:, [0, 1, 2, 4, 5]], 48_000)
    for figure in FIGURES[:4]:
        np.testing.assert_allclose(
            getattr(measure(clip), figure), getattr(measure(without_lfe), figure), rtol=0, atol=1e-9
        )
    film_order = Clip(clip.samples[:, [0, 2, 1, 4, 5, 3]], 48_000)
    assert_same(measure(film_order, ("L", "C", "R", "Ls", "Rs", "LFE")), measure(clip))


def test_an_effects_channel_alone_has_peaks_but_no_loudness() -> None:
    found = measure(Clip(programme(channels=1).samples, 48_000), ("LFE",))
    assert found.integrated_lufs is None
    assert found.momentary_max_lufs is None
    assert found.true_peak_dbtp is not None
    assert found.missing["integrated_lufs"] == "too quiet: nothing lasts above the gate at -70 LUFS"


@pytest.mark.parametrize(
    ("channels", "positions", "words"),
    [
        (9, None, "cannot tell which loudspeakers 9 channels belong to"),
        (2, ("L",), "1 positions were given for 2 channels"),
        (2, ("L", "left"), "unknown position 'left'; known are L, R, C"),
    ],
)
def test_channels_that_cannot_be_told_apart_are_refused(
    channels: int, positions: tuple[str, ...] | None, words: str
) -> None:
    with pytest.raises(MeasureError, match=words):
        Meter(48_000, channels, positions)
    assert measure(programme(channels=9), ("other",) * 9).integrated_lufs is not None


@pytest.mark.parametrize("rate_hz", RATES)
def test_short_sounds_get_what_exists_and_a_reason_for_the_rest(rate_hz: int) -> None:
    block = 2 * rate_hz // 5
    just_short, just_long = (measure(Clip(programme(rate_hz).samples[:n], rate_hz)) for n in (block - 1, block))
    assert set(just_short.missing) == set(FIGURES[:4])
    assert just_short.missing["integrated_lufs"].startswith("too short: 0.400 s, at least 0.4 s are needed") or (
        "0.39" in just_short.missing["integrated_lufs"]
    )
    assert just_short.true_peak_dbtp is not None
    assert set(just_long.missing) == {"range_lu", "short_term_max_lufs"}
    assert just_long.integrated_lufs == just_long.momentary_max_lufs
    assert just_long.missing["range_lu"] == "too short: 0.400 s, at least 3 s are needed"
    three_s = measure(Clip(programme(rate_hz).samples[: 3 * rate_hz], rate_hz))
    assert three_s.missing == {}
    assert three_s.range_lu == 0.0  # one window


@pytest.mark.parametrize("frames", [0, 100, 48_000, 480_000])
def test_silence_has_no_loudness_and_says_so(frames: int) -> None:
    found = measure(Clip(np.zeros((frames, 2)), 48_000))
    assert [getattr(found, figure) for figure in FIGURES] == [None] * 6
    assert set(found.missing) == set(FIGURES)
    expected = "digital silence" if frames >= 19_200 else "too short"
    assert found.missing["integrated_lufs"].startswith(expected)
    assert found.missing["sample_peak_dbfs"].startswith("digital silence")


def test_what_stays_below_the_gate_has_maxima_but_no_integrated_loudness() -> None:
    clip = programme()
    quiet = measure(Clip(clip.samples * 10 ** (-80 / 20), clip.rate_hz))
    assert set(quiet.missing) == {"integrated_lufs", "range_lu"}
    assert quiet.missing["integrated_lufs"] == "too quiet: nothing lasts above the gate at -70 LUFS"
    loud = measure(clip).momentary_max_lufs
    assert loud is not None
    np.testing.assert_allclose(quiet.momentary_max_lufs, loud - 80, rtol=0, atol=1e-6)


def test_silence_around_a_sound_leaves_its_figures() -> None:
    clip = programme(length_s=6.0)
    gap = np.zeros((48_000 * 20, 2))
    alone = measure(clip)
    among = measure(Clip(np.concatenate([gap, clip.samples, gap]), 48_000))
    assert among.momentary_max_lufs == pytest.approx(alone.momentary_max_lufs, abs=1e-6)
    assert among.short_term_max_lufs == pytest.approx(alone.short_term_max_lufs, abs=1e-6)
    # Blocks across the edges count too, so the gated whole may move a little; ungated it would fall by 8.8 LU.
    assert among.integrated_lufs == pytest.approx(alone.integrated_lufs, abs=0.5)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_a_sample_that_is_not_a_number_is_refused_and_spoils_nothing(value: float) -> None:
    clip = programme()
    meter = Meter(48_000, 2)
    meter.feed(clip.samples[:100_000])
    bad = clip.samples[100_000:].copy()
    bad[50_000, 1] = value
    with pytest.raises(MeasureError, match="sample at frame 150000, channel 2 is not a number"):
        meter.feed(bad)
    meter.feed(clip.samples[100_000:])
    assert_same(meter.result(), measure(clip))


def test_a_block_of_the_wrong_shape_is_refused() -> None:
    meter = Meter(48_000, 2)
    for shape in ((10, 1), (10, 3), (10,)):
        with pytest.raises(ValueError, match=r"a block is \(frames, 2\)"):
            meter.feed(np.zeros(shape))
    with pytest.raises(ValueError, match="a meter needs a rate and channels"):
        Meter(0, 2)


@pytest.mark.parametrize("name", ["a.wav", "a.flac", "a.ogg", "a.mp3"])
def test_a_file_reads_as_its_samples_do(tmp_path: Path, name: str) -> None:
    clip = programme(44_100)
    soundfile.write(tmp_path / name, clip.samples * 0.5, 44_100)
    assert_same(measure_file(tmp_path / name), measure(reading.read(tmp_path / name)))
    with pytest.raises(FileError, match="cannot be opened"):
        measure_file(tmp_path / "gone.wav")


def test_memory_grows_by_its_cells_and_nothing_else() -> None:
    block = programme(length_s=1.0).samples

    def peak_bytes(length_s: int) -> int:
        tracemalloc.start()
        meter = Meter(48_000, 2)
        for _ in range(length_s):
            meter.feed(block)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert len(meter.momentary_lufs()) == length_s * 100 - 39
        return peak

    measure(programme())  # loads what is loaded once
    short, long = peak_bytes(10), peak_bytes(310)
    # 800 bytes a second for the cells, doubled while an array grows; samples would be 768 000 a second.
    assert long - short < 300 * 2000
