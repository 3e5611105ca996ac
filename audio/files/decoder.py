"""Taking frames from an open sound file, and finding out whether it holds what it promises.

It works on soundfile's open files but opens none itself; what libsndfile complains of passes through.
"""

from __future__ import annotations

import contextlib
from dataclasses import replace
from typing import Any

from ..clip import Samples
from ..errors import FileError
from .containers import mp3_states_length
from .file_info import FileInfo
from .muted_stderr import muted_stderr

BLOCK_FRAMES = 65_536
UNKNOWN_FRAMES = 2**62  # soundfile answers more than this where a FLAC's length was never filled in
# Ogg Vorbis and Opus store surround channels in an order of their own (Vorbis I specification section 4.3.9,
# from memory; 5.1 agrees with what ffmpeg writes). For each channel of the WAVE order, its place in an Ogg
# file.
OGG_TO_WAVE = {
    3: (0, 2, 1),
    5: (0, 2, 1, 3, 4),
    6: (0, 2, 1, 5, 3, 4),
    7: (0, 2, 1, 6, 5, 3, 4),
    8: (0, 2, 1, 7, 5, 6, 3, 4),
}


def next_frames(file: Any, frames: int, dtype: str) -> Samples:
    """The next frames of an open file, fewer at its end; channels in WAVE order."""
    with muted_stderr() if file.format == "MP3" else contextlib.nullcontext():
        samples: Samples = file.read(frames, dtype=dtype, always_2d=True)
    if file.format == "OGG" and file.channels in OGG_TO_WAVE:
        samples = samples[:, OGG_TO_WAVE[file.channels]]
    return samples


def skip(file: Any, info: FileInfo, frames: int) -> None:
    """Decode `frames` frames and let them go, where seeking would land elsewhere."""
    while frames > 0:
        got = len(next_frames(file, min(frames, BLOCK_FRAMES), "float32"))
        if got == 0:
            raise FileError(f"{info.path}: corrupt: its sound ends early; fetch or export it again")
        frames -= got


def whole(file: Any, info: FileInfo) -> FileInfo:
    """The info with its true number of frames; raises if the file does not hold what it promises."""
    if info.frames >= UNKNOWN_FRAMES:
        raise FileError(f"{info.path}: its header does not say how long it is (it was streamed); export it again")
    if info.container == "FLAC" and info.frames:
        _check_end(file, info)
    if info.container == "MP3":
        held = _count(file)
        if not mp3_states_length(info.path):
            return replace(info, frames=held)
        if held < info.frames:
            raise FileError(
                f"{info.path}: cut short or corrupt: its header promises {info.frames} frames, "
                f"{held} can be decoded; fetch or export it again"
            )
    return info


def _check_end(file: Any, info: FileInfo) -> None:
    """Raise unless the last frames can be decoded; costs one seek."""
    tail = min(info.frames, 4096)
    file.seek(info.frames - tail)
    if len(next_frames(file, tail, "float32")) != tail:
        raise FileError(f"{info.path}: cut short: its last frames are missing; fetch or export it again")


def _count(file: Any) -> int:
    """Number of frames that can be decoded."""
    held = 0
    while got := len(next_frames(file, BLOCK_FRAMES, "float32")):
        held += got
    return held
