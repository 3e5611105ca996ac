"""Tones that start and end softly: for a voltmeter, to tell channels apart, to find how high somebody hears. Pure."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

RAMP_S = 0.25
HIGHEST_DBFS = -6.0


def tone(
    freq_hz: float, level_dbfs: float, seconds: float, rate_hz: int, *, ramp_s: float = RAMP_S
) -> NDArray[np.float32]:  # fmt: skip
    """A sine, shape (frames, 1), its peak at `level_dbfs`, with raised-cosine ramps of 0.25 s, or as long as is said.

    Raises
    ------
    ValueError
        If it is louder than −6 dBFS, shorter than its ramps, or not below half the rate.
    """
    if level_dbfs > HIGHEST_DBFS or seconds < 2 * ramp_s or not 0 < freq_hz < rate_hz / 2:
        raise ValueError(f"no tone of {freq_hz} Hz, {level_dbfs} dBFS, {seconds} s is made at {rate_hz} Hz")
    frames, ramp = round(seconds * rate_hz), round(ramp_s * rate_hz)
    sound = 10 ** (level_dbfs / 20) * np.sin(2 * np.pi * freq_hz * np.arange(frames) / rate_hz)
    rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ramp) + 0.5) / ramp)
    sound[:ramp] *= rise
    sound[-ramp:] *= rise[::-1]
    return np.asarray(sound[:, None], dtype=np.float32)
