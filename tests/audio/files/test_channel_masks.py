"""Which loudspeaker each channel belongs to is read from a WAVE header, written to it, and weighs in loudness."""

from __future__ import annotations

import struct
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audio import prepare
from audio.clip import Clip
from audio.errors import MeasureError
from audio.files import reading, writing
from audio.levels.channel_layout import WAVE_ORDER, positions
from audio.levels.loudness import measure, measure_file
from audio.mend import Mend, read_mended

RATE = 48_000


def ffmpegs(folder: Path, layout: str, channels: int) -> Path:
    """A WAV of ffmpeg's, whose header names the loudspeakers: a tone of its own level in each channel."""
    raw, path = folder / "raw.f32", folder / f"{layout}.wav"
    tones(channels).astype("<f4").tofile(raw)
    source = ["-f", "f32le", "-ar", str(RATE), "-ch_layout", layout, "-i", str(raw)]
    old = ["-f", "f32le", "-ar", str(RATE), "-ac", str(channels), "-channel_layout", layout, "-i", str(raw)]
    for given in (source, old):  # ffmpeg 5.1 and later; before
        if subprocess.run(["ffmpeg", "-v", "error", "-y", *given, "-c:a", "pcm_s24le", str(path)]).returncode == 0:
            return path
    raise AssertionError("ffmpeg writes no such file")


def tones(channels: int) -> np.ndarray:
    time = np.arange(2 * RATE)[:, None] / RATE
    return 0.05 * np.arange(1, channels + 1) * np.sin(2 * np.pi * 997 * time + np.arange(channels))


# names after ffmpeg's list of layouts (-layouts): FL FR FC LFE BL BR FLC FRC BC SL SR
LAYOUTS = {
    "2.1": ("L", "R", "LFE"),
    "4.0": ("L", "R", "C", "Cb"),
    "quad": ("L", "R", "Ls", "Rs"),
    "5.0": ("L", "R", "C", "Ls", "Rs"),
    "5.1": ("L", "R", "C", "LFE", "Ls", "Rs"),
    "5.1(side)": ("L", "R", "C", "LFE", "Ls", "Rs"),
    "7.1": ("L", "R", "C", "LFE", "Lb", "Rb", "Ls", "Rs"),
    "7.1(wide)": ("L", "R", "C", "LFE", "Ls", "Rs", "other", "other"),
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_loudspeakers_a_file_names_are_read(tmp_path: Path, layout: str) -> None:
    names = LAYOUTS[layout]
    path = ffmpegs(tmp_path, layout, len(names))
    info = reading.inspect(path)
    assert positions(info.channels, info.channel_mask) == names
    clip = reading.read(path)
    expected = measure(Clip(clip.samples, RATE), names)
    assert measure(clip).integrated_lufs == pytest.approx(expected.integrated_lufs, abs=1e-9)
    assert measure_file(path).integrated_lufs == pytest.approx(expected.integrated_lufs, abs=1e-9)


@pytest.mark.parametrize("layout", ["2.1", "4.0", "7.1(wide)"])
def test_channels_keep_their_places_through_mending_and_matching(tmp_path: Path, layout: str) -> None:
    names = LAYOUTS[layout]
    path = ffmpegs(tmp_path, layout, len(names))
    cut = read_mended(path, 4_000, RATE + 4_000, RATE, 44_100, Mend(delay_s=0.001))
    clips = {"one": cut, "two": Clip(0.5 * cut.samples, cut.rate_hz, cut.channel_mask)}
    found, paths = prepare.prepare("p", clips, tmp_path)
    assert found.residual_lu < 0.01
    for prepared in paths.values():
        info = reading.inspect(prepared)
        assert positions(info.channels, info.channel_mask) == names


@pytest.mark.parametrize("channels", list(WAVE_ORDER))
def test_a_file_written_without_a_wish_names_the_usual_order(tmp_path: Path, channels: int) -> None:
    writing.write(tmp_path / "a.wav", Clip(tones(channels)[:1000] / 4, RATE))
    info = reading.inspect(tmp_path / "a.wav")
    assert positions(channels, info.channel_mask) == WAVE_ORDER[channels]
    assert soundfile.info(tmp_path / "a.wav").channels == channels


def test_channels_beyond_the_mask_belong_to_no_known_loudspeaker() -> None:
    assert positions(4, 0x3) == ("L", "R", "other", "other")
    assert positions(3, 0x3F) == ("L", "R", "C")
    assert positions(1, 0x1) == ("C",)
    assert positions(2, 0x600) == ("L", "R")
    assert positions(12, None) is None
    assert positions(12, 0) is None


def test_setups_whose_channels_belong_to_other_loudspeakers_are_not_matched(tmp_path: Path) -> None:
    clips = {"one": Clip(tones(3), RATE, 0x7), "two": Clip(tones(3), RATE, 0xB)}
    with pytest.raises(MeasureError, match=r"loudspeakers the channels belong to \(L R C and L R LFE\)"):
        prepare.prepare("p", clips, tmp_path)


def test_the_mask_stands_where_the_format_says(tmp_path: Path) -> None:
    writing.write(tmp_path / "a.wav", Clip(tones(3)[:1000], RATE, 0xB))
    head = (tmp_path / "a.wav").read_bytes()[:80]
    at = head.index(b"fmt ")
    assert struct.unpack("<I", head[at + 28 : at + 32])[0] == 0xB
