"""A stretch of sound in memory, with its rate. It touches no files and no devices."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Clip:
    """Samples of shape (frames, channels), full scale ±1.0, their rate, and which loudspeakers the channels belong to.

    `channel_mask` is a WAVE header's (one bit a loudspeaker, in the order of the channels); None: the usual order.

    Raises
    ------
    ValueError
        If the samples are not two-dimensional or the rate is not positive.
    """

    samples: Samples
    rate_hz: int
    channel_mask: int | None = None

    def __post_init__(self) -> None:
        if self.samples.ndim != 2:
            raise ValueError(f"a clip is (frames, channels); got shape {self.samples.shape}")
        if self.rate_hz <= 0:
            raise ValueError(f"a clip's rate is positive; got {self.rate_hz}")

    @property
    def frames(self) -> int:
        """Number of frames."""
        return int(self.samples.shape[0])

    @property
    def channels(self) -> int:
        """Number of channels."""
        return int(self.samples.shape[1])

    @property
    def length_s(self) -> float:
        """Length in seconds."""
        return self.frames / self.rate_hz


def not_finite(samples: Samples) -> tuple[int, int] | None:
    """Frame and channel, both from 0, of the first sample that is NaN or infinite; None if there is none.

    Parameters
    ----------
    samples
        Shape (frames, channels).
    """
    finite = np.isfinite(samples)
    if finite.all():
        return None
    frame, channel = np.argwhere(~finite)[0]
    return int(frame), int(channel)
