"""Audio files in and out: WAV, RF64, Wave64, AIFF, FLAC, Ogg Vorbis, Opus and MP3, through soundfile.

The one module that imports soundfile. It knows files and samples, and neither loudness nor passages by name.
What comes out of it is whole and finite, or it raises: a damaged file is never handed on as if it were
shorter.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip, Samples
from ..dither import fits, whole_numbers
from ..errors import FileError, PassageError
from ..finite import not_finite
from ..quiet import quiet
from ..replacement import Sink, replacement
from .containers import container_fault
from .decoder import BLOCK_FRAMES, skip, take, whole
from .file_info import BITS, FLOATS, FileInfo

LOWEST_RATE_HZ = 8_000
HIGHEST_RATE_HZ = 192_000
# A WAV's sizes are 32-bit counts; beyond them the file is written as RF64 (EBU Tech 3306). 4096: its header.
WAV_MOST_BYTES = 2**32 - 1 - 4096

_WRITABLE = {".wav": ("PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"), ".flac": ("PCM_16", "PCM_24")}
_FRAME_BYTES = {"PCM_16": 2, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4, "DOUBLE": 8}
_MAGIC = (b"RIFF", b"RF64", b"riff", b"FORM", b"fLaC", b"OggS", b".snd", b"caff")
_READABLE = "WAV, RF64, W64, AIFF, FLAC, Ogg Vorbis, Opus or MP3"


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
    for block in _decoded(info, start_frame, wanted, BLOCK_FRAMES):
        samples[filled : filled + len(block)] = block
        filled += len(block)
    return Clip(samples, info.rate_hz)


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
    yield from _decoded(info, 0, info.frames, block_frames)


def write(path: Path | str, clip: Clip, *, subtype: str = "PCM_24", seed: int = 0, dither: bool = True) -> None:
    """Write the clip as WAV or FLAC (by suffix), whole or not at all; nothing is ever clipped.

    Whole-number formats get TPDF dither (±1 LSB triangular) from a PCG64 generator with `seed`, so the same
    clip and seed give the same samples, and are rounded to nearest. `FLOAT` and `DOUBLE` keep values beyond
    ±1.0 (their header holds the time of writing, so only their samples are alike from run to run). A WAV past
    4 GiB becomes RF64 under the same name. The file appears under its name only when complete; an older one
    is replaced.

    Parameters
    ----------
    path
        Ends in .wav or .flac; its folder exists.
    subtype
        "PCM_16", "PCM_24", "PCM_32", "FLOAT" or "DOUBLE"; FLAC holds the first two only.
    seed
        Whole number, not negative.
    dither
        False only for samples already on the format's own steps.

    Raises
    ------
    FileError
        If samples are not finite, a whole-number format would clip, the format is not one written here, or
        the disk is full, read-only or not permitted.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix not in _WRITABLE:
        raise FileError(f"{path}: cannot write files of this kind; name it .wav or .flac")
    if subtype not in _WRITABLE[suffix]:
        raise FileError(f"{path}: {suffix} cannot hold {subtype!r}; choose one of {', '.join(_WRITABLE[suffix])}")
    if clip.frames == 0 or clip.channels == 0:
        raise FileError(f"{path}: nothing to write (shape {clip.samples.shape})")
    if not LOWEST_RATE_HZ <= clip.rate_hz <= HIGHEST_RATE_HZ:
        raise FileError(f"{path}: {clip.rate_hz} Hz is outside 8000 to 192000 Hz; resample first")
    _check_finite(clip.samples, path, 0, clip.rate_hz)
    generator = np.random.Generator(np.random.PCG64(seed)) if dither else None
    try:
        with replacement(path) as file:
            _encode(file, path, clip, subtype, generator)
    except OSError as error:
        raise FileError(
            f"{path}: could not be written ({_reason(error)}); free the disk or choose another folder"
        ) from error


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
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise FileError(f"{path}: cannot be read ({_reason(error)})") from error


def _regular(path: Path) -> tuple[int, int]:
    """Size and time of change of a file that exists and has something in it."""
    try:
        status = path.stat()
    except OSError as error:
        raise FileError(f"{path}: cannot be opened ({_reason(error)}); check the path") from error
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
        raise FileError(f"{path}: cannot be opened ({_reason(error)}); check who may read it") from error
    if fault:
        raise FileError(f"{path}: {fault}; fetch or export it again")
    with _opened(path) as file:
        info = FileInfo(
            path=path,
            rate_hz=file.samplerate,
            channels=file.channels,
            frames=file.frames,
            container=file.format,
            subtype=file.subtype,
            bits=BITS.get(file.subtype),
            lossy=file.subtype not in BITS and file.subtype not in FLOATS,
        )
        if not LOWEST_RATE_HZ <= info.rate_hz <= HIGHEST_RATE_HZ:
            raise FileError(f"{path}: {info.rate_hz} Hz is outside 8000 to 192000 Hz; convert it first")
        info = whole(file, info)
    if info.frames == 0:
        raise FileError(f"{path}: holds no sound (0 frames); fetch or export it again")
    return info


def _decoded(info: FileInfo, start_frame: int, frames: int, block_frames: int) -> Iterator[Samples]:
    """`frames` frames from `start_frame`, finite, in blocks; a lossy file is decoded from its beginning."""
    with _opened(info.path) as file:
        if info.lossy:
            skip(file, info, start_frame)
        elif start_frame:
            file.seek(start_frame)
        position = start_frame
        end = start_frame + frames
        while position < end:
            wanted = min(block_frames, end - position)
            block = take(file, wanted, "float64")
            if len(block) != wanted:
                raise FileError(
                    f"{info.path}: corrupt: no sound can be decoded from frame {position + len(block)} on; "
                    "fetch or export it again"
                )
            _check_finite(block, info.path, position, info.rate_hz)
            yield block
            position += wanted


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """An open SoundFile; what libsndfile and the system complain of becomes a FileError."""
    import soundfile

    class ForwardOnly(soundfile.SoundFile):
        """Lossy sound is read straight on: soundfile otherwise seeks after each read, and near the end of an
        Opus file that seek lands elsewhere.
        """

        def seekable(self) -> bool:
            return self.subtype in (*BITS, *FLOATS) and super().seekable()

    try:
        with path.open("rb") as raw:
            known = raw.read(4) in _MAGIC
        with contextlib.nullcontext() if known else quiet():  # anything else may reach the MP3 decoder
            file = ForwardOnly(path)
    except OSError as error:
        raise FileError(f"{path}: cannot be opened ({_reason(error)}); check who may read it") from error
    except TypeError as error:  # soundfile asks for rate and channels where the name ends in .raw
        raise FileError(f"{path}: is raw samples without a header; give {_READABLE}") from error
    except soundfile.LibsndfileError as error:
        raise FileError(f"{path}: is not audio that can be read here ({_words(error)}); give {_READABLE}") from error
    with file:
        try:
            yield file
        except soundfile.LibsndfileError as error:
            raise FileError(
                f"{path}: cut short or corrupt: its sound cannot be decoded ({_words(error)}); fetch or export it again"
            ) from error


def _encode(file: IO[bytes], path: Path, clip: Clip, subtype: str, generator: np.random.Generator | None) -> None:
    """Write the clip's samples through libsndfile into an open file; OSError where the disk refuses."""
    import soundfile

    sink = Sink(file)
    form = {"samplerate": clip.rate_hz, "channels": clip.channels, "subtype": subtype}
    try:
        with soundfile.SoundFile(sink, "w", format=_container(path, clip, subtype), **form) as sound:
            for start in range(0, clip.frames, BLOCK_FRAMES):
                block = clip.samples[start : start + BLOCK_FRAMES]
                sound.write(block if subtype in FLOATS else _integers(block, path, clip, subtype, generator))
                if sink.error is not None:
                    break
    except soundfile.LibsndfileError as error:
        raise FileError(
            f"{path}: {path.suffix} cannot hold {clip.channels} channels at {clip.rate_hz} Hz as {subtype} "
            f"({_words(error)}); choose WAV"
        ) from error
    if sink.error is not None:
        raise sink.error


def _integers(
    block: Samples, path: Path, clip: Clip, subtype: str, generator: np.random.Generator | None
) -> NDArray[np.int16] | NDArray[np.int32]:
    """The block in the integer type that libsndfile stores unchanged; raises rather than clip."""
    bits = int(subtype.removeprefix("PCM_"))
    steps = whole_numbers(block, bits, generator)
    if not fits(steps, bits):
        peak = float(np.max(np.abs(clip.samples)))
        raise FileError(
            f"{path}: {bits}-bit samples would clip: the peak is {peak:.6f} of full scale "
            f"({20 * np.log10(peak):+.2f} dBFS); turn it down or write FLOAT"
        )
    return steps.astype(np.int16) if bits == 16 else steps.astype(np.int32) << (32 - bits)


def _container(path: Path, clip: Clip, subtype: str) -> str:
    if path.suffix.lower() == ".flac":
        return "FLAC"
    if clip.frames * clip.channels * _FRAME_BYTES[subtype] > WAV_MOST_BYTES:
        return "RF64"
    return "WAV" if clip.channels <= 2 else "WAVEX"  # only the extensible header says which channel is which


def _check_finite(samples: Samples, path: Path, start_frame: int, rate_hz: int) -> None:
    place = not_finite(samples)
    if place is None:
        return
    frame, channel = place
    raise FileError(
        f"{path}: holds a sample that is not a number ({samples[frame, channel]}) "
        f"at frame {start_frame + frame} ({(start_frame + frame) / rate_hz:.3f} s), channel {channel + 1}; "
        "export it again"
    )


def _reason(error: OSError) -> str:
    return error.strerror or type(error).__name__


def _words(error: Any) -> str:
    """What libsndfile says, without its frills."""
    if error.code == 7:  # "does not exist or is not a regular file", said of anything it cannot make out
        return "format not recognised"
    return str(error.error_string).strip().removeprefix("Error : ").rstrip(".") or "unknown format"
