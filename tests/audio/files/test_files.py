"""Files in and out: every readable format, streaming, and a clear line for every kind of bad file.

Sound files are made here, by libsndfile itself or by ffmpeg where another writer's habits matter.
"""

from __future__ import annotations

import os
import resource
import struct
import subprocess
import sys
import textwrap
import wave
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audio.clip import Clip
from audio.errors import FileError, PassageError
from audio.files import reading, writing

RATE_HZ = 48_000
LOSSLESS = [
    ("a.wav", "WAV", "PCM_16", 16),
    ("a.wav", "WAV", "PCM_24", 24),
    ("a.wav", "WAV", "PCM_32", 32),
    ("a.wav", "WAV", "PCM_U8", 8),
    ("a.wav", "WAVEX", "PCM_24", 24),
    ("a.wav", "WAV", "FLOAT", None),
    ("a.wav", "WAV", "DOUBLE", None),
    ("a.wav", "RF64", "PCM_24", 24),
    ("a.w64", "W64", "PCM_24", 24),
    ("a.aiff", "AIFF", "PCM_16", 16),
    ("a.aiff", "AIFF", "PCM_24", 24),
    ("a.flac", "FLAC", "PCM_16", 16),
    ("a.flac", "FLAC", "PCM_24", 24),
    ("a.au", "AU", "PCM_16", 16),
]
LOSSY = [
    ("a.ogg", "OGG", "VORBIS"),
    ("a.opus", "OGG", "OPUS"),
    ("a.mp3", "MP3", "MPEG_LAYER_III"),
]
# Formats whose frames can be counted before all of them are decoded, and a name for each.
COUNTED = [(name, form, subtype) for name, form, subtype, _ in LOSSLESS] + LOSSY


def music(frames: int = 4 * RATE_HZ, channels: int = 2) -> np.ndarray:
    """A chord with noise, different in each channel, peaks near 0.6."""
    rng = np.random.default_rng(20_240_101)
    t = np.arange(frames)[:, None] / RATE_HZ
    pitches_hz = 220.0 * np.arange(1, channels + 1)
    return 0.3 * np.sin(2 * np.pi * pitches_hz * t) + 0.05 * rng.standard_normal((frames, channels))


def make(path: Path, form: str, subtype: str, samples: np.ndarray | None = None, rate_hz: int = RATE_HZ) -> Path:
    """A sound file written by libsndfile."""
    soundfile.write(path, music() if samples is None else samples, rate_hz, format=form, subtype=subtype)
    return path


@pytest.mark.parametrize(("name", "form", "subtype", "bits"), LOSSLESS)
def test_lossless_formats_say_what_they_are_and_give_their_samples_back(
    tmp_path: Path, name: str, form: str, subtype: str, bits: int | None
) -> None:
    path = make(tmp_path / name, form, subtype)
    info = reading.inspect(path)
    assert (info.path, info.rate_hz, info.channels, info.frames) == (path, RATE_HZ, 2, 4 * RATE_HZ)
    assert (info.container, info.subtype, info.bits, info.lossy) == (form, subtype, bits, False)
    assert info.length_s == 4.0
    step = 0.0 if subtype == "DOUBLE" else 2.0**-24 if bits is None else 2.0 ** (1 - bits)
    np.testing.assert_allclose(reading.read(path).samples, music(), rtol=0, atol=step)


@pytest.mark.parametrize(("name", "form", "subtype"), LOSSY)
def test_lossy_formats_have_no_word_length(tmp_path: Path, name: str, form: str, subtype: str) -> None:
    info = reading.inspect(make(tmp_path / name, form, subtype))
    assert (info.frames, info.container, info.subtype, info.bits, info.lossy) == (192_000, form, subtype, None, True)


def test_telephone_companding_counts_as_lossy(tmp_path: Path) -> None:
    info = reading.inspect(make(tmp_path / "a.wav", "WAV", "ULAW"))
    assert (info.bits, info.lossy) == (None, True)


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 22_050, 44_100, 88_200, 96_000, 192_000])
def test_rates_from_8_to_192_khz_are_read(tmp_path: Path, rate_hz: int) -> None:
    path = make(tmp_path / "a.flac", "FLAC", "PCM_24", music(1000), rate_hz)
    assert reading.inspect(path).rate_hz == reading.read(path).rate_hz == rate_hz


@pytest.mark.parametrize("channels", [1, 2, 3, 5, 6, 8])
def test_channels_keep_their_order(tmp_path: Path, channels: int) -> None:
    for name, form in (("a.wav", "WAV"), ("a.flac", "FLAC"), ("a.aiff", "AIFF")):
        path = make(tmp_path / name, form, "PCM_24", music(1000, channels))
        np.testing.assert_allclose(reading.read(path).samples, music(1000, channels), rtol=0, atol=2.0**-23)


@pytest.mark.parametrize("codec", ["libvorbis", "libopus"])
def test_surround_ogg_files_come_in_wave_order(tmp_path: Path, codec: str) -> None:
    # ffmpeg takes the WAV in WAVE order (L R C LFE Ls Rs) and writes the Ogg file in the order of its codec.
    t = np.arange(RATE_HZ)[:, None] / RATE_HZ
    tones = 0.3 * np.sin(2 * np.pi * np.array([300, 400, 500, 60, 600, 700]) * t)
    source = make(tmp_path / "a.wav", "WAVEX", "PCM_16", tones)
    ogg = ffmpeg(source, tmp_path / "a.ogg", "-c:a", codec, "-b:a", "480k")
    samples = reading.read(ogg).samples
    spectra = np.abs(np.fft.rfft(samples[:RATE_HZ] * np.hanning(RATE_HZ)[:, None], axis=0))
    assert np.argmax(spectra, axis=0).tolist() == [300, 400, 500, 60, 600, 700]


@pytest.mark.parametrize(("name", "form", "subtype"), COUNTED)
def test_a_slice_equals_the_same_stretch_of_the_whole(tmp_path: Path, name: str, form: str, subtype: str) -> None:
    path = make(tmp_path / name, form, subtype)
    whole = reading.read(path).samples
    assert len(whole) == 4 * RATE_HZ
    rng = np.random.default_rng(7)
    for start in [0, 1, 65_535, 65_536, 191_950, 191_999, *rng.integers(0, 190_000, 10).tolist()]:
        frames = min(2000, len(whole) - start)
        np.testing.assert_array_equal(reading.read(path, start, frames).samples, whole[start : start + frames])


@pytest.mark.parametrize(("name", "form", "subtype"), COUNTED)
@pytest.mark.parametrize("block_frames", [10_007, 191_999])
def test_blocks_joined_equal_the_whole(tmp_path: Path, name: str, form: str, subtype: str, block_frames: int) -> None:
    path = make(tmp_path / name, form, subtype)
    whole, _ = soundfile.read(path, always_2d=True)  # in one call, so that nothing can go wrong between two
    parts = list(reading.blocks(path, block_frames))
    assert {len(part) for part in parts[:-1]} == {block_frames}
    np.testing.assert_array_equal(np.concatenate(parts), whole)
    np.testing.assert_array_equal(reading.read(path).samples, whole)


def test_an_mp3_without_a_frame_count_has_the_frames_that_can_be_decoded(tmp_path: Path) -> None:
    source = make(tmp_path / "a.wav", "WAV", "PCM_16")
    path = ffmpeg(source, tmp_path / "a.mp3", "-c:a", "libmp3lame", "-b:a", "192k", "-write_xing", "0")
    guess = soundfile.info(path).frames
    info = reading.inspect(path)
    assert info.frames % 1152 == 0  # whole MPEG-1 layer III frames (ISO/IEC 11172-3)
    assert info.frames != guess  # the decoder's estimate, which it cannot keep
    assert sum(len(part) for part in reading.blocks(path)) == reading.read(path).frames == info.frames


def test_a_streamed_wav_whose_size_was_never_filled_in_is_read_to_its_end(tmp_path: Path) -> None:
    source = make(tmp_path / "a.wav", "WAV", "PCM_16")
    streamed = subprocess.run(
        ["ffmpeg", "-v", "error", "-i", str(source), "-f", "wav", "pipe:1"], capture_output=True, check=True
    ).stdout
    (tmp_path / "b.wav").write_bytes(streamed)
    np.testing.assert_array_equal(reading.read(tmp_path / "b.wav").samples, reading.read(source).samples)


def test_ten_minutes_at_96_khz_are_streamed_in_the_memory_of_one(tmp_path: Path) -> None:
    # A sparse file: ten minutes of 96 kHz stereo 24-bit are 350 MB, of which only the header takes room on the disk.
    peaks = [peak_memory_kib(sparse_wav(tmp_path / f"{length_s}.wav", length_s)) for length_s in (60, 600)]
    assert peaks[1] < 1.1 * peaks[0], peaks


def peak_memory_kib(path: Path) -> int:
    script = f"""
        import resource
        from audio.files import reading
        frames = sum(len(block) for block in reading.blocks({str(path)!r}))
        assert frames == reading.inspect({str(path)!r}).frames
        print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
    """
    done = subprocess.run([sys.executable, "-c", textwrap.dedent(script)], capture_output=True, text=True, check=True)
    return int(done.stdout)


def sparse_wav(path: Path, length_s: int) -> Path:
    size = length_s * 96_000 * 6
    fmt = struct.pack("<HHIIHH", 1, 2, 96_000, 96_000 * 6, 6, 24)
    header = b"RIFF" + struct.pack("<I", 36 + size) + b"WAVEfmt " + struct.pack("<I", 16) + fmt
    with path.open("wb") as file:
        file.write(header + b"data" + struct.pack("<I", size))
        file.truncate(44 + size)
    return path


# --- bad files: one clear line each -------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "form", "subtype"), COUNTED)
@pytest.mark.parametrize("kept", [0.1, 0.5, 0.9, 0.999])
def test_a_file_cut_short_is_refused(tmp_path: Path, name: str, form: str, subtype: str, kept: float) -> None:
    path = make(tmp_path / name, form, subtype)
    content = path.read_bytes()
    path.write_bytes(content[: int(kept * len(content))])
    with pytest.raises(FileError, match="cut short") as caught:
        reading.inspect(path)
    assert one_clear_line(caught.value, path)


def test_bytes_after_the_sound_are_no_fault(tmp_path: Path) -> None:
    for name, form, subtype in COUNTED:
        if form == "W64":  # its reader takes anything up to the end of the file for sound
            continue
        path = make(tmp_path / name, form, subtype)
        before = reading.read(path).samples
        path.write_bytes(path.read_bytes() + b"TAG" + bytes(125))  # an ID3v1 tag
        np.testing.assert_array_equal(reading.read(path).samples, before)


@pytest.mark.parametrize(("name", "form", "subtype"), [("a.flac", "FLAC", "PCM_24"), *LOSSY])
@pytest.mark.parametrize("damage", ["zeros", "noise", "removed"])
def test_damage_in_the_middle_is_refused(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], name: str, form: str, subtype: str, damage: str
) -> None:
    path = make(tmp_path / name, form, subtype)
    content = path.read_bytes()
    middle = len(content) // 2
    fill = {
        "zeros": bytes(3000),
        "noise": np.random.default_rng(3).integers(0, 256, 3000, dtype=np.uint8).tobytes(),
        "removed": b"",
    }[damage]
    path.write_bytes(content[:middle] + fill + content[middle + 3000 :])
    with pytest.raises(FileError, match=r"corrupt|cut short") as caught:
        reading.read(path)
    assert one_clear_line(caught.value, path)
    with pytest.raises(FileError, match=r"corrupt|cut short"):
        list(reading.blocks(path))
    assert capfd.readouterr().err == ""  # the MP3 decoder prints its own complaints if it is let


def test_a_lost_ogg_page_is_found(tmp_path: Path) -> None:
    path = make(tmp_path / "a.ogg", "OGG", "VORBIS")
    content = path.read_bytes()
    starts = [at for at in range(len(content)) if content.startswith(b"OggS", at)]
    path.write_bytes(content[: starts[6]] + content[starts[7] :])
    with pytest.raises(FileError, match="an Ogg page is missing before byte"):
        reading.inspect(path)


@pytest.mark.parametrize("name", ["a.wav", "a.mp3", "a.flac", "a.ogg", "a.raw", "a"])
def test_a_text_file_is_not_audio_whatever_it_is_called(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], name: str
) -> None:
    path = tmp_path / name
    path.write_text("The treble is a little forward.\n" * 200)
    with pytest.raises(FileError, match=r"is not audio|without a header") as caught:
        reading.inspect(path)
    assert one_clear_line(caught.value, path)
    assert capfd.readouterr().err == ""


def test_an_unreadable_compressed_format_is_named_with_what_to_give(tmp_path: Path) -> None:
    path = ffmpeg(make(tmp_path / "a.wav", "WAV", "PCM_16"), tmp_path / "a.m4a", "-c:a", "aac")
    with pytest.raises(FileError, match=r"is not audio that can be read here .*; give WAV, RF64"):
        reading.inspect(path)


def test_a_streamed_flac_without_a_length_is_refused(tmp_path: Path) -> None:
    source = make(tmp_path / "a.wav", "WAV", "PCM_16")
    streamed = subprocess.run(
        ["ffmpeg", "-v", "error", "-i", str(source), "-f", "flac", "pipe:1"], capture_output=True, check=True
    ).stdout
    (tmp_path / "b.flac").write_bytes(streamed)
    with pytest.raises(FileError, match="does not say how long it is"):
        reading.inspect(tmp_path / "b.flac")


@pytest.mark.parametrize(
    "question", [reading.inspect, reading.read, reading.sha256, lambda path: next(reading.blocks(path))]
)
def test_what_is_no_file_with_something_in_it_is_refused(tmp_path: Path, question: Callable[[Path], object]) -> None:
    with pytest.raises(FileError, match=r"gone\.wav: cannot be opened \(No such file or directory\)"):
        question(tmp_path / "gone.wav")
    with pytest.raises(FileError, match="is a folder"):
        question(tmp_path)
    (tmp_path / "empty.wav").touch()
    with pytest.raises(FileError, match=r"is empty \(0 bytes\)"):
        question(tmp_path / "empty.wav")
    os.mkfifo(tmp_path / "pipe.wav")
    with pytest.raises(FileError, match="is not a regular file"):
        question(tmp_path / "pipe.wav")


def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path) -> None:
    path = make(tmp_path / "a.wav", "WAV", "PCM_16")
    path.chmod(0)
    with as_nobody():
        with pytest.raises(FileError, match="Permission denied"):
            reading.inspect(path)
        with pytest.raises(FileError, match="Permission denied"):
            reading.sha256(path)


@pytest.mark.parametrize(("name", "form", "subtype"), [("a.wav", "WAV", "PCM_16"), ("a.ogg", "OGG", "VORBIS")])
def test_a_file_without_frames_is_refused(tmp_path: Path, name: str, form: str, subtype: str) -> None:
    path = make(tmp_path / name, form, subtype, np.zeros((0, 2)))
    with pytest.raises(FileError, match=r"holds no sound \(0 frames\)"):
        reading.inspect(path)


@pytest.mark.parametrize("rate_hz", [4_000, 7_999, 192_001, 384_000])
def test_rates_outside_8_to_192_khz_are_refused(tmp_path: Path, rate_hz: int) -> None:
    path = make(tmp_path / "a.wav", "WAV", "PCM_16", rate_hz=rate_hz)
    with pytest.raises(FileError, match=f"{rate_hz} Hz is outside 8000 to 192000 Hz"):
        reading.inspect(path)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_samples_that_are_not_numbers_are_refused_with_their_place(tmp_path: Path, value: float) -> None:
    samples = music()
    samples[150_000, 1] = value
    path = make(tmp_path / "a.wav", "WAV", "FLOAT", samples)
    with pytest.raises(FileError, match=rf"not a number \({value}\) at frame 150000 \(3\.125 s\), channel 2"):
        reading.read(path)
    with pytest.raises(FileError, match="at frame 150000 "):
        list(reading.blocks(path, 1000))
    assert reading.read(path, 0, 150_000).frames == 150_000


def test_a_stretch_past_the_end_is_refused(tmp_path: Path) -> None:
    path = make(tmp_path / "a.wav", "WAV", "PCM_16")
    assert reading.read(path, 192_000, 0).samples.shape == (0, 2)
    for start, frames in ((191_999, 2), (192_001, None), (-1, 5), (0, -1), (0, 192_001)):
        with pytest.raises(PassageError, match=r"has 192000 frames \(4\.000 s\)"):
            reading.read(path, start, frames)


def test_a_file_that_changed_is_looked_at_again(tmp_path: Path) -> None:
    path = make(tmp_path / "a.wav", "WAV", "PCM_16")
    assert reading.inspect(path).frames == 192_000
    make(path, "WAV", "PCM_16", music(1000))
    assert reading.inspect(path).frames == 1000


def test_the_checksum_is_that_of_the_published_example(tmp_path: Path) -> None:
    (tmp_path / "abc").write_bytes(b"abc")  # FIPS 180-4 example, from memory
    expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert reading.sha256(tmp_path / "abc") == expected


# --- writing ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("subtype", "bits"), [("PCM_16", 16), ("PCM_24", 24), ("PCM_32", 32)])
@pytest.mark.parametrize("suffix", [".wav", ".flac"])
def test_whole_numbers_on_the_formats_own_steps_are_written_exactly(
    tmp_path: Path, subtype: str, bits: int, suffix: str
) -> None:
    if suffix == ".flac" and bits == 32:
        with pytest.raises(FileError, match="cannot hold 'PCM_32'; choose one of PCM_16, PCM_24"):
            writing.write(tmp_path / "a.flac", Clip(music(), RATE_HZ), subtype=subtype)
        return
    full = 2 ** (bits - 1)
    steps = np.random.default_rng(1).integers(-full, full, (5000, 2))
    steps[:4] = [[-full, full - 1], [-1, 0], [1, -2], [full - 1, -full]]
    path = tmp_path / f"a{suffix}"
    writing.write(path, Clip(steps / full, RATE_HZ), subtype=subtype, dither=False)
    np.testing.assert_array_equal(reading.read(path).samples * full, steps)
    assert reading.inspect(path).bits == bits


def test_wav_steps_are_what_pythons_own_reader_finds(tmp_path: Path) -> None:
    steps = np.array([[-32768, 32767], [0, -1], [1, 12345]])
    writing.write(tmp_path / "a.wav", Clip(steps / 32768, RATE_HZ), subtype="PCM_16", dither=False)
    with wave.open(str(tmp_path / "a.wav")) as reader:
        assert (reader.getframerate(), reader.getnchannels(), reader.getsampwidth()) == (RATE_HZ, 2, 2)
        np.testing.assert_array_equal(np.frombuffer(reader.readframes(3), "<i2").reshape(3, 2), steps)


def test_rounding_is_to_nearest_and_not_downwards(tmp_path: Path) -> None:
    # libsndfile left alone rounds downwards: its mean error would be -0.5 steps.
    samples = music(RATE_HZ)
    writing.write(tmp_path / "a.wav", Clip(samples, RATE_HZ), subtype="PCM_16", dither=False)
    error = (reading.read(tmp_path / "a.wav").samples - samples) * 32768
    assert np.abs(error).max() <= 0.5
    assert abs(error.mean()) < 0.005


def test_dither_frees_the_error_from_the_sound(tmp_path: Path) -> None:
    # With triangular dither of ±1 step the total error has mean 0 and variance 1/12 + 2/12 = 1/4 step² whatever the
    # value underneath (Lipshitz, Wannamaker and Vanderkooy 1992; from memory).
    count = 200_000
    for held in (0.0, 0.1, 0.25, 0.5):
        clip = Clip(np.full((count, 1), held / 32768), RATE_HZ)
        writing.write(tmp_path / "a.wav", clip, subtype="PCM_16", seed=5)
        error = reading.read(tmp_path / "a.wav").samples * 32768 - held
        np.testing.assert_allclose(error.mean(), 0.0, atol=5 * 0.5 / np.sqrt(count))
        np.testing.assert_allclose(error.var(), 0.25, atol=0.005)
        assert np.abs(error).max() <= 1.5


def test_a_tone_below_one_step_survives_in_the_dither(tmp_path: Path) -> None:
    t = np.arange(10 * RATE_HZ) / RATE_HZ
    tone = 0.4 / 32768 * np.sin(2 * np.pi * 1000 * t)
    writing.write(tmp_path / "a.wav", Clip(tone[:, None], RATE_HZ), subtype="PCM_16")
    found = reading.read(tmp_path / "a.wav").samples[:, 0] * 32768
    amplitude = 2 * np.abs(np.mean(found * np.exp(-2j * np.pi * 1000 * t)))
    np.testing.assert_allclose(amplitude, 0.4, atol=0.01)


def test_the_same_seed_gives_the_same_bytes_and_another_seed_other_dither(tmp_path: Path) -> None:
    clip = Clip(music(200_000), RATE_HZ)
    for name, seed in (("a.wav", 1), ("b.wav", 1), ("c.wav", 2)):
        writing.write(tmp_path / name, clip, seed=seed)
    a, b, c = ((tmp_path / name).read_bytes() for name in ("a.wav", "b.wav", "c.wav"))
    assert a == b
    assert len(a) == len(c)
    assert a != c


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32"])
@pytest.mark.parametrize("peak", [1.0, 1.25, -1.001])
def test_what_would_clip_is_refused_and_leaves_no_file(tmp_path: Path, subtype: str, peak: float) -> None:
    samples = music(100_000)
    samples[99_000, 1] = peak
    with pytest.raises(FileError, match=rf"would clip: the peak is {abs(peak):.6f} of full scale "):
        writing.write(tmp_path / "a.wav", Clip(samples, RATE_HZ), subtype=subtype)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("subtype", ["FLOAT", "DOUBLE"])
def test_float_files_keep_values_beyond_full_scale(tmp_path: Path, subtype: str) -> None:
    samples = np.array([[1.5, -3.25], [0.0, 1.0]])
    writing.write(tmp_path / "a.wav", Clip(samples, RATE_HZ), subtype=subtype)
    np.testing.assert_array_equal(reading.read(tmp_path / "a.wav").samples, samples)


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_samples_that_are_not_numbers_are_never_written(tmp_path: Path, value: float) -> None:
    samples = music(1000)
    samples[7, 0] = value
    for subtype in ("PCM_24", "FLOAT"):
        with pytest.raises(FileError, match=r"not a number .* at frame 7 "):
            writing.write(tmp_path / "a.wav", Clip(samples, RATE_HZ), subtype=subtype)
    assert list(tmp_path.iterdir()) == []


def test_past_4_gib_a_wav_becomes_rf64(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # The limit itself is that of a 32-bit byte count; lowered here so that a small file crosses it.
    assert 2**32 - 2**13 < writing.WAV_MOST_BYTES < 2**32
    clip = Clip(music(10_000), RATE_HZ)  # 60 000 bytes of 24-bit samples
    monkeypatch.setattr(writing, "WAV_MOST_BYTES", 60_000)
    writing.write(tmp_path / "a.wav", clip)
    assert reading.inspect(tmp_path / "a.wav").container == "WAV"
    monkeypatch.setattr(writing, "WAV_MOST_BYTES", 59_999)
    writing.write(tmp_path / "b.wav", clip)
    assert reading.inspect(tmp_path / "b.wav").container == "RF64"
    assert (tmp_path / "b.wav").read_bytes()[:4] == b"RF64"
    np.testing.assert_array_equal(reading.read(tmp_path / "b.wav").samples, reading.read(tmp_path / "a.wav").samples)


def test_more_than_two_channels_get_the_header_that_names_them(tmp_path: Path) -> None:
    writing.write(tmp_path / "a.wav", Clip(music(1000, 6), RATE_HZ))
    assert reading.inspect(tmp_path / "a.wav").container == "WAVEX"
    writing.write(tmp_path / "a.flac", Clip(music(1000, 8), RATE_HZ))
    assert reading.inspect(tmp_path / "a.flac").channels == 8
    with pytest.raises(FileError, match="cannot hold 9 channels"):
        writing.write(tmp_path / "b.flac", Clip(music(1000, 9), RATE_HZ))
    assert not (tmp_path / "b.flac").exists()


@pytest.mark.parametrize("subtype", ["PCM_24", "FLOAT"])
@pytest.mark.parametrize("suffix", [".wav", ".flac"])
def test_a_full_disk_is_told_and_the_older_file_stays(tmp_path: Path, suffix: str, subtype: str) -> None:
    if (suffix, subtype) == (".flac", "FLOAT"):
        subtype = "PCM_16"
    path = tmp_path / f"a{suffix}"
    writing.write(path, Clip(music(1000), RATE_HZ), seed=1)
    before = path.read_bytes()
    with files_at_most(100_000), pytest.raises(FileError, match=r"could not be written \(File too large\)"):
        writing.write(path, Clip(music(), RATE_HZ), subtype=subtype)
    assert path.read_bytes() == before
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name]


def test_a_folder_that_may_not_be_written_or_is_not_there_is_told(tmp_path: Path) -> None:
    clip = Clip(music(1000), RATE_HZ)
    with pytest.raises(FileError, match=r"could not be written \(No such file or directory\)"):
        writing.write(tmp_path / "none" / "a.wav", clip)
    with as_nobody(), pytest.raises(FileError, match=r"could not be written \(Permission denied\)"):
        writing.write(tmp_path / "a.wav", clip)
    (tmp_path / "b.wav").mkdir()
    with pytest.raises(FileError, match=r"could not be written \(Is a directory\)"):
        writing.write(tmp_path / "b.wav", clip)
    assert [entry.name for entry in tmp_path.iterdir()] == ["b.wav"]


@pytest.mark.parametrize(
    ("name", "subtype", "rate_hz", "words"),
    [
        ("a.mp3", "PCM_24", RATE_HZ, "name it .wav or .flac"),
        ("a.wav", "PCM_U8", RATE_HZ, "choose one of PCM_16"),
        ("a.wav", "PCM_24", 4000, "outside 8000 to 192000 Hz"),
    ],
)
def test_what_cannot_be_written_is_told(tmp_path: Path, name: str, subtype: str, rate_hz: int, words: str) -> None:
    with pytest.raises(FileError, match=words):
        writing.write(tmp_path / name, Clip(music(1000), rate_hz), subtype=subtype)
    with pytest.raises(FileError, match="nothing to write"):
        writing.write(tmp_path / "b.wav", Clip(np.zeros((0, 2)), RATE_HZ))
    assert list(tmp_path.iterdir()) == []


# --- means --------------------------------------------------------------------------------------------------------


def ffmpeg(source: Path, target: Path, *options: str) -> Path:
    subprocess.run(["ffmpeg", "-v", "error", "-y", "-i", str(source), *options, str(target)], check=True)
    return target


def one_clear_line(error: FileError, path: Path) -> bool:
    """The message begins with the path, has one line, and ends in what to do."""
    return str(error).startswith(f"{path}: ") and "\n" not in str(error) and ";" in str(error)


@contextmanager
def as_nobody() -> Iterator[None]:
    """Without the rights of root for a while, which no file mode would stop; anyone else stays who they are."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65_534)
    try:
        yield
    finally:
        os.seteuid(0)


@contextmanager
def files_at_most(size: int) -> Iterator[None]:
    """No file of this process may grow past `size` bytes: to a writer this looks like a disk that fills up."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
