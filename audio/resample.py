"""Clips at another sample rate, by soxr at its best quality: one path for every setup.

Touches no files. The only module that imports soxr.
"""

from __future__ import annotations

import numpy as np

from .clip import Clip
from .errors import PassageError


def resample(clip: Clip, rate_hz: int) -> Clip:
    """The clip at `rate_hz`, exactly round(frames x to / from) frames long, in place to the sample instant.

    Frame 0 stays at time 0 (soxr's delay is already taken off); beyond both ends the sound is taken as
    silent. A clip already at `rate_hz` comes back unchanged.

    Parameters
    ----------
    clip
        Samples of shape (frames, channels); may be empty.
    rate_hz
        The rate wanted, a positive whole number.

    Raises
    ------
    PassageError
        If samples are not finite: one such sample would spoil everything after it.
    ValueError
        If `rate_hz` is not positive.
    """
    if rate_hz <= 0:
        raise ValueError(f"a sample rate is positive; got {rate_hz}")
    if rate_hz == clip.rate_hz:
        return clip
    if not np.isfinite(clip.samples).all():
        raise PassageError("cannot resample samples that are not numbers (NaN or infinite); mend the recording")
    # Halves go up, as for a length in seconds that ends between two frames; no floating point.
    frames = (2 * clip.frames * rate_hz + clip.rate_hz) // (2 * clip.rate_hz)
    if clip.frames == 0 or frames == 0:
        return Clip(np.zeros((frames, clip.channels)), rate_hz, clip.channel_mask)
    import soxr

    result = np.asarray(soxr.resample(clip.samples, clip.rate_hz, rate_hz, quality="VHQ"), dtype=np.float64)
    if result.shape[0] < frames:
        result = np.concatenate([result, np.zeros((frames - result.shape[0], clip.channels))])
    return Clip(np.ascontiguousarray(result[:frames]), rate_hz, clip.channel_mask)
