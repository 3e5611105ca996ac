"""Mended passages, against sounds whose true value is known at every instant: sums of sines, written to real files.

A sum of sines is the same formula at any delay and on any clock, so what should be read is computed, not measured. Real
music is delayed by turning the phase of its whole spectrum, which is exact for a delay (the shift theorem).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from audio.clip import Clip
from audio.errors import FileError, MeasureError, PassageError
from audio.files import reading, writing
from audio.mend import Mend, read_mended
from demo_tracks import tracks

RATE_HZ = 48_000
SECONDS = 3.0
# frequencies that no rate, block or window divides evenly, up to the end of the audible band
TONES_HZ = (61.7, 443.1, 1707.3, 5209.9, 9973.7, 15013.3, 19001.9)
FLAT_HZ = 16_000.0


def tones(times_s: NDArray[np.float64], highest_hz: float = 20_000.0) -> NDArray[np.float64]:
    """Two channels of tones at these times: the second with other phases."""
    chosen = [(f, 1.3 * place) for place, f in enumerate(TONES_HZ) if f < highest_hz]
    left = np.sum([0.1 * np.sin(2 * np.pi * f * times_s + p) for f, p in chosen], axis=0)
    right = np.sum([0.1 * np.sin(2 * np.pi * f * times_s + 2.0 - p) for f, p in chosen], axis=0)
    return np.stack([left, right], axis=1)


def recorded(
    path: Path, rate_hz: int = RATE_HZ, *, delay_s: float = 0.0, ppm: float = 0.0, highest_hz: float = 20_000.0
) -> Path:
    """The tones as a recorder holds them that starts early by `delay_s` and whose clock is `ppm` fast."""
    times_s = np.arange(round(SECONDS * rate_hz)) / (rate_hz * (1 + 1e-6 * ppm)) - delay_s
    writing.write(path, Clip(tones(times_s, highest_hz), rate_hz), subtype="DOUBLE")
    return path


def error_db(got: NDArray[np.float64], true: NDArray[np.float64]) -> float:
    """The power of the difference against that of the truth."""
    return 10 * float(np.log10(np.sum(np.square(got - true)) / np.sum(np.square(true))))


def delayed(samples: NDArray[np.float64], frames: float) -> NDArray[np.float64]:
    """Samples later by a broken number of frames, by the shift theorem, with room so that nothing wraps into them."""
    room = 8192
    padded = np.pad(samples, ((room, room), (0, 0)))
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(len(padded)) * frames)[:, None]
    return np.fft.irfft(np.fft.rfft(padded, axis=0) * turn, len(padded), axis=0)[room:-room]


def lag_frames(one: NDArray[np.float64], two: NDArray[np.float64]) -> float:
    """How late `two` is, in frames: the slope of the cross-spectrum's phase from 100 to 15 000 Hz, by least squares."""
    cross = np.fft.rfft(two) * np.conj(np.fft.rfft(one))
    cycles = np.fft.rfftfreq(one.size)
    inside = (cycles > 100 / RATE_HZ) & (cycles < 15_000 / RATE_HZ)
    weight = np.abs(cross[inside])
    return -float(
        np.sum(weight * cycles[inside] * np.angle(cross[inside])) / (2 * np.pi * np.sum(weight * cycles[inside] ** 2))
    )


def test_without_a_mend_the_frames_of_the_file_come_out_untouched() -> None:
    path = tracks.path("drums")
    got = read_mended(path, 12_345, 50_000, RATE_HZ, RATE_HZ)
    np.testing.assert_array_equal(got.samples, reading.read(path, 12_345, 50_000).samples)
    assert got.rate_hz == RATE_HZ


def test_a_delay_of_whole_frames_is_undone_exactly() -> None:
    path = tracks.path("drums")
    got = read_mended(path, 10_000, 50_000, RATE_HZ, RATE_HZ, Mend(delay_s=336 / RATE_HZ))
    np.testing.assert_array_equal(got.samples, reading.read(path, 10_336, 50_000).samples)


def test_turned_polarity_is_turned_back_exactly() -> None:
    path = tracks.path("voice")
    got = read_mended(path, 1000, 20_000, RATE_HZ, RATE_HZ, Mend(invert=True))
    np.testing.assert_array_equal(got.samples, -reading.read(path, 1000, 20_000).samples)


@pytest.mark.parametrize("piece", ["strings", "drums", "voice", "chords", "texture"])
@pytest.mark.parametrize("frames", [3.37, -3.37, 240.5])
def test_a_broken_delay_of_real_music_is_undone_to_a_hundredth_of_a_sample(
    tmp_path: Path, piece: str, frames: float
) -> None:
    """Reference: the untouched music. −80 dB in the band, up to 20 kHz."""
    music = reading.read(tracks.path(piece), 0, 4 * RATE_HZ).samples
    writing.write(tmp_path / "late.wav", Clip(delayed(music, frames), RATE_HZ), subtype="DOUBLE")
    got = read_mended(
        tmp_path / "late.wav", RATE_HZ, 2 * RATE_HZ, RATE_HZ, RATE_HZ, Mend(delay_s=frames / RATE_HZ)
    ).samples
    true = music[RATE_HZ : 3 * RATE_HZ]
    for channel in range(2):
        assert abs(lag_frames(true[:, channel], got[:, channel])) < 0.01
    shape = np.hanning(len(true))[:, None]
    lines = slice(0, 2 * 20_000)  # two seconds: lines half a hertz apart
    wrong = np.fft.rfft((got - true) * shape, axis=0)[lines]
    whole = np.fft.rfft(true * shape, axis=0)[lines]
    assert 10 * np.log10(np.sum(np.abs(wrong) ** 2) / np.sum(np.abs(whole) ** 2)) < -80


@pytest.mark.parametrize("ppm", [1000.0, -1000.0, 37.0, -0.5])
@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
def test_a_clock_off_by_up_to_1000_ppm_is_corrected(tmp_path: Path, ppm: float, rate_hz: int) -> None:
    path = recorded(tmp_path / "fast.wav", rate_hz, ppm=ppm)
    start, frames = rate_hz, rate_hz
    mend = Mend(delay_s=start * 1e-6 * ppm / rate_hz, stretch_ppm=ppm)
    got = read_mended(path, start, frames, rate_hz, rate_hz, mend)
    assert error_db(got.samples, tones((start + np.arange(frames)) / rate_hz)) < -80


@pytest.mark.parametrize(("file_rate_hz", "rate_hz"), [(44_100, 48_000), (48_000, 44_100), (96_000, 48_000)])
@pytest.mark.parametrize("mend", [Mend(), Mend(delay_s=0.0031234), Mend(delay_s=-0.0051, invert=True)])
def test_another_rate_keeps_every_instant_in_place(tmp_path: Path, file_rate_hz: int, rate_hz: int, mend: Mend) -> None:
    """Up to 16 kHz, where the resampler's pass band at 44.1 kHz is flat; at 19 kHz it falls by some 0.003 dB."""
    path = recorded(tmp_path / "other.wav", file_rate_hz, delay_s=mend.delay_s, highest_hz=FLAT_HZ)
    got = read_mended(path, 24_000, 48_000, 48_000, rate_hz, mend)
    true = tones(0.5 + np.arange(rate_hz) / rate_hz, FLAT_HZ) * (-1 if mend.invert else 1)
    assert error_db(got.samples, true) < -80


def test_delay_drift_polarity_and_rate_are_mended_at_once(tmp_path: Path) -> None:
    ppm, delay_s, start_s = -420.0, 0.01234, 0.75
    path = recorded(tmp_path / "all.wav", 44_100, delay_s=delay_s, ppm=ppm, highest_hz=FLAT_HZ)
    # the instant start_s is held at (start_s + delay_s)(1 + ppm) of the recorder's own seconds
    late_s = (start_s + delay_s) * (1 + 1e-6 * ppm) - start_s
    got = read_mended(path, 36_000, 60_000, 48_000, 48_000, Mend(late_s, True, ppm))
    assert error_db(got.samples, -tones(start_s + np.arange(60_000) / 48_000, FLAT_HZ)) < -80


def test_a_mended_passage_is_right_from_its_first_frame_to_its_last(tmp_path: Path) -> None:
    """No filter rings in from the cut, since what lies beside it is read too."""
    path = recorded(tmp_path / "late.wav", delay_s=0.0002)
    got = read_mended(path, 30_000, 2000, RATE_HZ, RATE_HZ, Mend(delay_s=0.0002))
    true = tones((30_000 + np.arange(2000)) / RATE_HZ)
    np.testing.assert_allclose(got.samples, true, rtol=0, atol=5e-5)


@pytest.mark.parametrize(
    ("frames", "passage_rate_hz", "rate_hz", "wanted"),
    [
        (44_100, 44_100, 48_000, 48_000),
        (1000, 44_100, 48_000, 1088),
        (1001, 48_000, 44_100, 920),
        (7, 48_000, 96_000, 14),
    ],
)
@pytest.mark.parametrize("mend", [Mend(), Mend(0.001), Mend(stretch_ppm=900.0), Mend(-0.00123, stretch_ppm=-900.0)])
def test_the_length_is_the_passages_own_at_the_new_rate(
    tmp_path: Path, frames: int, passage_rate_hz: int, rate_hz: int, wanted: int, mend: Mend
) -> None:
    """1000 × 48 000 / 44 100 = 1088.4; 1001 × 44 100 / 48 000 = 919.7."""
    path = recorded(tmp_path / "any.wav")
    assert read_mended(path, 1000, frames, passage_rate_hz, rate_hz, mend).frames == wanted


@pytest.mark.parametrize("mend", [Mend(delay_s=-0.1), Mend(delay_s=-0.10001)])
def test_before_the_file_begins_there_is_silence(tmp_path: Path, mend: Mend) -> None:
    path = recorded(tmp_path / "early.wav")
    got = read_mended(path, 0, RATE_HZ, RATE_HZ, RATE_HZ, mend).samples
    assert np.abs(got[:4700]).max() < 1e-4
    true = tones(np.arange(5000, RATE_HZ) / RATE_HZ + mend.delay_s)
    np.testing.assert_allclose(got[5000:], true, rtol=0, atol=1e-4)


def test_past_the_files_end_there_is_silence(tmp_path: Path) -> None:
    path = recorded(tmp_path / "short.wav")
    got = read_mended(path, round(2.5 * RATE_HZ), RATE_HZ, RATE_HZ, RATE_HZ).samples
    np.testing.assert_array_equal(got[RATE_HZ // 2 :], 0.0)
    assert np.abs(got[: RATE_HZ // 2]).max() > 0.1


@pytest.mark.parametrize(
    ("start", "mend"), [(3 * RATE_HZ, Mend()), (0, Mend(delay_s=-1.5)), (RATE_HZ, Mend(delay_s=9.0))]
)
def test_a_passage_outside_the_file_is_refused(tmp_path: Path, start: int, mend: Mend) -> None:
    path = recorded(tmp_path / "short.wav")
    with pytest.raises(PassageError, match=r"outside .*short\.wav \(3\.00 s long\)"):
        read_mended(path, start, RATE_HZ, RATE_HZ, RATE_HZ, mend)


@pytest.mark.parametrize("ppm", [1000.5, -5000.0])
def test_another_speed_is_no_clock_error(tmp_path: Path, ppm: float) -> None:
    path = recorded(tmp_path / "fast.wav")
    with pytest.raises(MeasureError, match="is another speed; bring a better recording"):
        read_mended(path, 0, RATE_HZ, RATE_HZ, RATE_HZ, Mend(stretch_ppm=ppm))


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"none\.wav"):
        read_mended(tmp_path / "none.wav", 0, 100, RATE_HZ, RATE_HZ)


@pytest.mark.parametrize("late_s", [0.0, 0.0031234])
@pytest.mark.parametrize("rate_hz", [48_000, 44_100])
def test_a_high_pass_takes_an_offset_away_from_the_first_frame_on(tmp_path: Path, rate_hz: int, late_s: float) -> None:
    """Settled at the cut, at a file's start as well; the tones are left as they were."""
    times_s = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ - late_s
    for name, offset in (("off", 0.05), ("even", 0.0)):
        writing.write(tmp_path / f"{name}.wav", Clip(tones(times_s) + offset, RATE_HZ), subtype="DOUBLE")
    mend = Mend(delay_s=late_s, high_pass_hz=10.0)
    for start in (0, RATE_HZ):
        got, even = (
            read_mended(tmp_path / f"{name}.wav", start, RATE_HZ, RATE_HZ, rate_hz, mend) for name in ("off", "even")
        )
        assert got.frames == rate_hz
        settled = 0 if start else rate_hz // 4  # at a file's very start, a cut between frames rings from its edge
        np.testing.assert_allclose(got.samples[settled:], even.samples[settled:], rtol=0, atol=2e-5)
        np.testing.assert_allclose(got.samples, even.samples, rtol=0, atol=6e-3)
        if start:
            lines = np.abs(np.fft.rfft(got.samples[:, 0] * np.hanning(rate_hz))) / (rate_hz / 4)
            assert lines[443] == pytest.approx(0.1, rel=0.02)


def test_a_high_pass_leaves_a_quiet_start_quiet(tmp_path: Path) -> None:
    """An offset that was there from a file's first frame makes no thump at it."""
    writing.write(tmp_path / "off.wav", Clip(np.full((RATE_HZ, 2), 0.2), RATE_HZ), subtype="DOUBLE")
    got = read_mended(tmp_path / "off.wav", 0, RATE_HZ // 2, RATE_HZ, RATE_HZ, Mend(high_pass_hz=10.0))
    assert np.abs(got.samples).max() < 1e-9


def test_mends_join_their_high_passes() -> None:
    assert Mend(0.001).then(Mend(high_pass_hz=10.0)) == Mend(0.001, high_pass_hz=10.0)
    assert Mend(high_pass_hz=10.0).then(Mend(high_pass_hz=10.0)) == Mend(high_pass_hz=10.0)
