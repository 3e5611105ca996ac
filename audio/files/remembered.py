"""Sound that was read once and is asked for again: kept in memory for a while, where that loses nothing.

It knows samples and names of files, and opens none.
"""

from __future__ import annotations

import contextlib
from collections.abc import Hashable, Iterator
from contextvars import ContextVar
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..clip import Samples

MOST_BYTES = 2**28  # two stereo recordings of five minutes at 48 kHz


@dataclass
class _Kept:
    """Whole files as 32-bit floats, which hold samples of up to 24 bits exactly, and how much room is left."""

    room_bytes: int
    files: dict[Hashable, NDArray[np.float32]] = field(default_factory=dict)


_KEPT: ContextVar[_Kept | None] = ContextVar("kept", default=None)


@contextlib.contextmanager
def remembering(most_bytes: int = MOST_BYTES) -> Iterator[None]:
    """Until the block ends, files that are read whole are kept, as many as there is room for."""
    before = _KEPT.set(_Kept(most_bytes))
    try:
        yield
    finally:
        _KEPT.reset(before)


def recall(file: Hashable, start_frame: int, frames: int, block_frames: int) -> Iterator[Samples] | None:
    """A stretch of a file in blocks, as it was read; None if the file is not kept."""
    kept = _KEPT.get()
    whole = None if kept is None else kept.files.get(file)
    if whole is None:
        return None
    end = start_frame + frames
    starts = range(start_frame, end, block_frames)
    return (whole[start : min(start + block_frames, end)].astype(np.float64) for start in starts)


def passing(file: Hashable, frames: int, channels: int, blocks: Iterator[Samples]) -> Iterator[Samples]:
    """The blocks of a whole file, whose samples 32-bit floats hold exactly; it is kept if there is room for it."""
    kept = _KEPT.get()
    size = 4 * frames * channels
    if kept is None or size > kept.room_bytes:
        yield from blocks
        return
    whole = np.empty((frames, channels), dtype=np.float32)
    at = 0
    for block in blocks:
        whole[at : at + len(block)] = block
        at += len(block)
        if at == frames:  # now, since whoever asks may not ask for more than the last
            kept.files[file] = whole
            kept.room_bytes -= size
        yield block
