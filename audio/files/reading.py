"""Audio files read: WAV, RF64, Wave64, AIFF, FLAC, Ogg Vorbis, Opus and MP3.

It knows files and samples, and neither loudness nor passages by name. What comes out of it is whole and finite, or it
raises: a damaged file is never handed on as if it were shorter.
"""

from __future__ import annotations

import functools
import stat
from collections.abc import Hashable, Iterator
from pathlib import Path

import numpy as np

from ..clip import Clip, Samples
from ..errors import FileError, PassageError
from . import checksum, remembered
from .containers import channel_mask, container_fault
from .decoder import BLOCK_FRAMES, next_frames, skip, whole
from .file_info import BITS, FLOATS, HIGHEST_RATE_HZ, LOWEST_RATE_HZ, FileInfo, check_finite
from .libsndfile import opened, reason

BITS_OF_FLOATS = 24  # whole numbers that a 32-bit float holds exactly


def inspect(path: Path | str) -> FileInfo:
    """What the file is: rate, channels, frames, format.

    The header is checked against the file's size, FLAC by decoding its end, Ogg by the checksum of every
    page, MP3 by decoding it once. Damage in the middle of a FLAC shows when its samples are read; damage
    inside the samples of a WAV or AIFF cannot be seen by anyone. An MP3 without a frame count in its first
    frame promises no length: it has the frames that can be decoded, and if it was cut short nothing tells.

    Raises
    ------
    FileError
        If the file is missing, no regular file, not permitted, empty, not audio, cut short, without frames,
        or has a rate outside 8 to 192 kHz.
    """
    path = Path(path)
    size, changed = _regular(path)
    return _inspect(path, size, changed)


def read(path: Path | str, start_frame: int = 0, frames: int | None = None) -> Clip:
    """The samples from `start_frame` on, `frames` long (None: to the end), as float64, full scale ±1.0.

    Lossy files are decoded from their beginning and then cut, because seeking in them is inexact: a stretch
    read here equals the same stretch of the whole. Surround channels come in WAVE order, of Ogg files too.
    Values beyond ±1.0 (float and lossy files) are kept.

    Raises
    ------
    FileError
        As for `inspect`; also if the file is corrupt or holds samples that are not numbers.
    PassageError
        If the stretch is negative or runs past the end of the file.
    """
    info = inspect(path)
    wanted = info.frames - start_frame if frames is None else frames
    if start_frame < 0 or wanted < 0 or start_frame + wanted > info.frames:
        raise PassageError(
            f"{info.path} has {info.frames} frames ({info.length_s:.3f} s); "
            f"frames {start_frame} to {start_frame + wanted} are not all inside; choose a stretch within it"
        )
    samples = np.empty((wanted, info.channels))
    filled = 0
    known = remembered.recall(_known(info), start_frame, wanted, BLOCK_FRAMES)
    for block in _decoded(info, start_frame, wanted, BLOCK_FRAMES) if known is None else known:
        samples[filled : filled + len(block)] = block
        filled += len(block)
    return Clip(samples, info.rate_hz, info.channel_mask)


def blocks(path: Path | str, block_frames: int = BLOCK_FRAMES) -> Iterator[Samples]:
    """The whole file in turn, float64 arrays of shape (up to `block_frames`, channels), in bounded memory.

    Raises
    ------
    FileError
        As for `read`, at the first block or at the block that is damaged.
    """
    if block_frames < 1:
        raise ValueError(f"a block has at least one frame; got {block_frames}")
    info = inspect(path)
    file = _known(info)
    known = remembered.recall(file, 0, info.frames, block_frames)
    if known is None:
        decoded = _decoded(info, 0, info.frames, block_frames)
        exact = info.subtype == "FLOAT" or (info.bits is not None and info.bits <= BITS_OF_FLOATS)
        known = remembered.passing(file, info.frames, info.channels, decoded) if exact else decoded
    yield from known


def sha256(path: Path | str) -> str:
    """SHA-256 of the file's bytes, 64 hexadecimal digits.

    Raises
    ------
    FileError
        If the file is missing, no regular file or cannot be read.
    """
    path = Path(path)
    _regular(path)
    try:
        return checksum.sha256(path)
    except OSError as error:
        raise FileError(f"{path}: cannot be read ({reason(error)})") from error


def _known(info: FileInfo) -> Hashable:
    """What a file is remembered by, until it changes."""
    return info.path, *_regular(info.path)


def _regular(path: Path) -> tuple[int, int]:
    """Size and time of change of a file that exists and has something in it."""
    try:
        status = path.stat()
    except OSError as error:
        raise FileError(f"{path}: cannot be opened ({reason(error)}); check the path") from error
    if stat.S_ISDIR(status.st_mode):
        raise FileError(f"{path}: is a folder, not an audio file; name a file in it")
    if not stat.S_ISREG(status.st_mode):
        raise FileError(f"{path}: is not a regular file; save the sound to a file first")
    if status.st_size == 0:
        raise FileError(f"{path}: is empty (0 bytes); fetch or export it again")
    return status.st_size, status.st_mtime_ns


@functools.lru_cache(maxsize=256)
def _inspect(path: Path, size: int, changed: int) -> FileInfo:
    """As `inspect`; size and time of change make the remembered answer expire with the file."""
    try:
        fault = container_fault(path, size)
    except OSError as error:
        raise FileError(f"{path}: cannot be opened ({reason(error)}); check who may read it") from error
    if fault:
        raise FileError(f"{path}: {fault}; fetch or export it again")
    with opened(path) as file:
        info = FileInfo(
            path=path,
            rate_hz=file.samplerate,
            channels=file.channels,
            frames=file.frames,
            container=file.format,
            subtype=file.subtype,
            bits=BITS.get(file.subtype),
            lossy=file.subtype not in BITS and file.subtype not in FLOATS,
            channel_mask=channel_mask(path),
        )
        if not LOWEST_RATE_HZ <= info.rate_hz <= HIGHEST_RATE_HZ:
            raise FileError(f"{path}: {info.rate_hz} Hz is outside 8000 to 192000 Hz; convert it first")
        info = whole(file, info)
    if info.frames == 0:
        raise FileError(f"{path}: holds no sound (0 frames); fetch or export it again")
    return info


def _decoded(info: FileInfo, start_frame: int, frames: int, block_frames: int) -> Iterator[Samples]:
    """`frames` frames from `start_frame`, finite, in blocks; a lossy file is decoded from its beginning."""
    with opened(info.path) as file:
        if info.lossy:
            skip(file, info, start_frame)
        elif start_frame:
            file.seek(start_frame)
        position = start_frame
        end = start_frame + frames
        while position < end:
            wanted = min(block_frames, end - position)
            block = next_frames(file, wanted, "float64")
            if len(block) != wanted:
                raise FileError(
                    f"{info.path}: corrupt: no sound can be decoded from frame {position + len(block)} on; "
                    "fetch or export it again"
                )
            check_finite(block, info.path, position, info.rate_hz)
            yield block
            position += wanted
