"""Where a sample is that is not a number. Pure."""

from __future__ import annotations

import numpy as np

from .clip import Samples


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
