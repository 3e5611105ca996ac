"""Files as a measuring program writes them, for tests."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from audio.clip import Clip
from audio.curves.curve import log_grid
from audio.files import writing

HZ = log_grid(20, 20_000, 24)


def text(level_db: np.ndarray, hz: np.ndarray = HZ) -> str:
    """Two columns, headed: Hz and dB."""
    return "Hz\tdB\n" + "\n".join(f"{f:.3f}\t{db:.3f}" for f, db in zip(hz, level_db, strict=True)) + "\n"


def write_level(path: Path, level_db: np.ndarray | float) -> Path:
    """A response as text: one level, or one for each of `HZ`."""
    path.write_text(text(np.broadcast_to(level_db, HZ.shape)))
    return path


def write_impulse(path: Path, frames: int = 4800, at: int = 480, rate_hz: int = 48_000) -> Path:
    """An impulse response that is flat: a single sample of 1."""
    impulse = np.zeros((frames, 1))
    impulse[at] = 1.0
    writing.write(path, Clip(impulse, rate_hz), subtype="FLOAT", dither=False)
    return path
