"""A clip as the bytes of a WAV file, in memory: what a browser fetches. It touches no disk.

Its size follows from frames and channels alone, and its header holds nothing else, no time and no name.
"""

from __future__ import annotations

import struct

import numpy as np

from ..clip import Clip
from ..errors import FileError
from .dither import fits, whole_numbers

BITS = 24  # one step is 138 dB below full scale: dither in it is far below what any chain plays
HEADER_BYTES = 44
MOST_CHANNELS = 2  # what every browser plays as it is; more it may mix down
_PCM = 1


def encoded(clip: Clip, generator: np.random.Generator) -> bytes:
    """The clip as 24-bit WAV with triangular dither, never clipped.

    Parameters
    ----------
    generator
        Source of the dither.

    Raises
    ------
    FileError
        If it has no frames, more than two channels, or would clip.
    """
    if clip.frames == 0 or not 1 <= clip.channels <= MOST_CHANNELS:
        raise FileError(
            f"a browser is given 1 or 2 channels of sound; got {clip.frames} frames of {clip.channels} channels: "
            "play it from this machine's own device"
        )
    steps = whole_numbers(clip.samples, BITS, generator)
    if not fits(steps, BITS):
        peak_db = 20 * np.log10(np.max(np.abs(clip.samples)))
        raise FileError(f"24-bit samples would clip: the peak is {peak_db:+.2f} dBFS; turn it down")
    data = np.ascontiguousarray(steps.astype("<i4")).view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    return _header(clip, len(data)) + data


def samples(body: bytes) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """The samples of what `encoded` made, shape (frames, channels)."""
    channels = struct.unpack_from("<H", body, 22)[0]
    threes = np.frombuffer(body, np.uint8, offset=HEADER_BYTES).reshape(-1, 3)
    fours = np.zeros((len(threes), 4), np.uint8)
    fours[:, 1:] = threes  # 256 times too large, so that the sign is in its place
    values: np.ndarray[tuple[int, int], np.dtype[np.float64]] = fours.view("<i4").reshape(-1, channels) / 2.0**31
    return values


def _header(clip: Clip, length: int) -> bytes:
    frame = clip.channels * BITS // 8
    return struct.pack(
        "<4sI4s4sIHHIIHH4sI",
        b"RIFF", HEADER_BYTES - 8 + length, b"WAVE",
        b"fmt ", 16, _PCM, clip.channels, clip.rate_hz, clip.rate_hz * frame, frame, BITS,
        b"data", length,
    )  # fmt: skip
