"""Clips written as audio files, WAV or FLAC, whole or not at all. It knows neither loudness nor passages."""

from __future__ import annotations

from pathlib import Path
from typing import IO

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip, Samples
from ..errors import FileError
from .containers import write_channel_mask
from .decoder import BLOCK_FRAMES
from .dither import fits, whole_numbers
from .file_info import FLOATS, HIGHEST_RATE_HZ, LOWEST_RATE_HZ, check_finite
from .libsndfile import created, reason
from .replacement import Sink, replacement

# A WAV's sizes are 32-bit counts; beyond them the file is written as RF64 (EBU Tech 3306). 4096: its header.
WAV_MOST_BYTES = 2**32 - 1 - 4096

# The loudspeakers named in a WAV whose clip names none: the usual order (audio/levels/channel_layout). What libsndfile
# writes by itself for eight channels, 0xFF, is another.
USUAL_MASKS = {3: 0x7, 4: 0x33, 5: 0x37, 6: 0x3F, 7: 0x70F, 8: 0x63F}
_WRITABLE = {".wav": ("PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"), ".flac": ("PCM_16", "PCM_24")}
_FRAME_BYTES = {"PCM_16": 2, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4, "DOUBLE": 8}


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
    check_finite(clip.samples, path, 0, clip.rate_hz)
    generator = np.random.Generator(np.random.PCG64(seed)) if dither else None
    try:
        with replacement(path) as file:
            _encode(file, path, clip, subtype, generator)
    except OSError as error:
        raise FileError(
            f"{path}: could not be written ({reason(error)}); free the disk or choose another folder"
        ) from error


def _encode(file: IO[bytes], path: Path, clip: Clip, subtype: str, generator: np.random.Generator | None) -> None:
    """Write the clip's samples through libsndfile into an open file; OSError where the disk refuses."""
    sink = Sink(file)
    with created(sink, path, _container(path, clip, subtype), subtype, clip.rate_hz, clip.channels) as sound:
        for start in range(0, clip.frames, BLOCK_FRAMES):
            block = clip.samples[start : start + BLOCK_FRAMES]
            sound.write(block if subtype in FLOATS else _integers(block, path, clip, subtype, generator))
            if sink.error is not None:
                break
    if sink.error is not None:
        raise sink.error
    mask = clip.channel_mask or USUAL_MASKS.get(clip.channels)
    if path.suffix.lower() == ".wav" and mask is not None:
        write_channel_mask(file, mask)


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
